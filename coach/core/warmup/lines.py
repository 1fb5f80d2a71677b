"""Rows of notes: slurs, scales, chords and intervals, tonguing."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from coach.core.course import CoursePart
from coach.core.passage import Passage
from coach.core.patterns.keys import CHORDS, CHROMATIC, SCALES, Mode
from coach.core.patterns.layout import Layout
from coach.core.patterns.lines import Ladders, figures, repeated, run
from coach.core.warmup import lip_slurs
from coach.core.warmup.making import SERIES, Day, Line, Said, in_key, part_of

_EIGHTH = Fraction(1, 2)
_MODES = (
    "major", "harmonic_minor", "major", "melodic_minor", "dorian", "major", "mixolydian",
)  # fmt: skip
_ARTICULATIONS = (
    ((), "all under one slur"),
    ((1,), "every note tongued"),
    ((2,), "slurred in pairs"),
    ((2, 1, 1), "two slurred and two tongued"),
)
_OF_A_SCALE = (14, 7, 4, 2)
_HALF_TONES = Mode("chromatic", CHROMATIC, CHROMATIC, 0)


def slurs(day: Day, part: int, tempo_bpm: float) -> CoursePart:
    """Lip slurs where the instrument has partials to slur over, else slurred lines."""
    sides = lip_slurs.by_side(day.reach)
    if not sides:
        return _slurred_lines(day, part, tempo_bpm)
    side = day.pick(sorted(sides), part)
    pattern = day.pick(lip_slurs.PATTERNS, part)
    variants = [lip_slurs.passage(series, pattern, day.reach) for series in sides[side]]
    where = f" on the {side} side" if side else ""
    said = Said(
        f"Lip slurs{where}",
        "Three partials of one fingering under one slur: the air moves the note, not the jaw.",
        f"Lip slurs{where}, one {_hold(day)} a take: the air learns the way before the tongue"
        " joins in.",
    )
    return part_of(day, "slurs", said, variants, tempo_bpm, "easy")


def _hold(day: Day) -> str:
    return "position" if day.reach.instrument.slide else "fingering"


def _slurred_lines(day: Day, part: int, tempo_bpm: float) -> CoursePart:
    variants = _in_keys(day, part, SCALES["major"], run, (4, 2), Layout((_EIGHTH,), slur_groups=()))
    said = Said(
        f"Slurs, {variants[0].title}",
        "Five notes up and down under one slur: no gap and no bump between them.",
        f"Slurs on {_titles(variants)}: the air goes through before the tongue joins in.",
    )
    return part_of(day, "slurs", said, variants, tempo_bpm, "easy")


def scales(day: Day, part: int, tempo_bpm: float) -> CoursePart:
    """A scale of the day and of the next key, articulated differently day by day."""
    mode = SCALES[day.pick(_MODES, part)]
    groups, words = day.pick(_ARTICULATIONS, part)
    variants = _in_keys(day, part, mode, run, _OF_A_SCALE, Layout((_EIGHTH,), slur_groups=groups))
    said = Said(
        f"Scales: {_titles(variants)}",
        f"Up and down, {words}: the same air through all of it.",
        f"{_at_first(_titles(variants))} up and down, {words}: {_where(variants)}.",
    )
    return part_of(day, "scales", said, variants, tempo_bpm, "normal")


def _where(variants: Sequence[Passage]) -> str:
    if variants[0].title == SERIES:
        return "what the instrument has of a scale here"
    return "today's keys on the way round the circle of fifths"


def patterns(day: Day, part: int, tempo_bpm: float) -> CoursePart:
    """Chords, thirds, sevenths or half tones, by turns."""
    name, mode, line, rungs = day.pick(_PATTERNS, part)
    variants = _in_keys(day, part, mode, line, rungs, Layout((_EIGHTH,)))
    said = Said(
        f"{name}: {_titles(variants)}",
        "At an easy tempo: hear each note before you play it.",
        f"{_at_first(_titles(variants))}: over such steps the ear leads the lips.",
    )
    return part_of(day, "patterns", said, variants, tempo_bpm, "normal")


def _broken(ladders: Ladders, rungs: int) -> list[int]:
    return figures(ladders, rungs, (0, 1, 2), inside=True)


def _thirds(ladders: Ladders, rungs: int) -> list[int]:
    return figures(ladders, rungs, (0, 2), inside=True)


_PATTERNS: tuple[tuple[str, Mode, Line, tuple[int, ...]], ...] = (
    ("Broken chords", CHORDS["major"], _broken, (6, 3, 2)),
    ("Thirds", SCALES["major"], _thirds, (7, 4, 2)),
    ("Half tones", _HALF_TONES, run, (12, 7, 5)),
    ("Sevenths", CHORDS["dominant_seventh"], run, (8, 4, 2)),
    ("Chords", CHORDS["minor"], run, (6, 3, 2)),
)


def tonguing(day: Day, part: int, tempo_bpm: float) -> CoursePart:
    """Every step of five notes repeated, in groups of four or three."""
    times, words = day.pick(((4, "fours"), (3, "threes")), part)

    def line(ladders: Ladders, rungs: int) -> list[int]:
        return repeated(run(ladders, rungs), times)

    layout = Layout((Fraction(1, times),))
    variants = _in_keys(day, part, SCALES["major"], line, (4, 2), layout)
    said = Said(
        f"Tonguing in {words}: {_titles(variants)}",
        "Light and even: the tongue only parts the air, which goes on.",
        f"Tonguing in {words} on {_titles(variants)}, now that the air is going: light, and as even"
        " as one slur.",
    )
    return part_of(day, "tonguing", said, variants, tempo_bpm, "normal")


def _in_keys(
    day: Day, part: int, mode: Mode, line: Line, rungs: Sequence[int], layout: Layout
) -> list[Passage]:
    """The line in the key of the day and the next one, once where the two are the same."""
    two = [in_key(day, 2 * part + k, mode, line, rungs, layout) for k in range(2)]
    return two if two[0] != two[1] else two[:1]


def _at_first(words: str) -> str:
    return words[:1].upper() + words[1:]


def _titles(variants: Sequence[Passage]) -> str:
    return " and ".join(dict.fromkeys(passage.title for passage in variants))
