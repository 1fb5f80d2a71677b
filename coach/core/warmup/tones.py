"""Single notes: long tones, swells, soft attacks, and the last notes of the range."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from coach.core.course import CoursePart
from coach.core.passage import Passage
from coach.core.patterns.keys import CHORDS, all_keys, signature, tonic_from
from coach.core.patterns.layout import Layout, lay
from coach.core.patterns.lines import Ladders, repeated, run, with_rests
from coach.core.pitch import name_of_midi, written_of_sounding
from coach.core.warmup.making import KEYS, SERIES, Day, Said, in_key, part_of

LIPS = (
    "Begin softly and without pressure, and stop where lips or jaw tire or hurt: your teacher or a"
    " doctor knows better than a program."
)
HIGH = (
    "Leave this out if the lips feel thick or tired; pain is for a teacher or a doctor, not for"
    " more practice."
)
HEARING = (
    "Loud playing in a small room tires the ears: keep it short, and if they ring afterwards ask a"
    " doctor."
)
_TONES, _SWELLS = 3, 2
_FARTHEST_SEMITONES = 7
_INWARDS_NOTES = 4


def long_tones(day: Day, part: int, tempo_bpm: float) -> CoursePart:
    """Three still notes a take, a bar each and a bar of rest, from the middle outwards."""
    centre, name, fifths = _centre(day)
    said = Said(
        f"Long tones outwards from {name}",
        "One still, even note a bar, then a bar of rest: steady air, soft, the same to the end.",
        f"Still, soft notes first, from {name} in the middle outwards: they wake the lips up.",
        LIPS if part == 0 else "",
    )
    groups = _rotated(_groups(_outwards(day, centre), _TONES), 2 * part)
    if part:
        first = _name(day, groups[0][0], fifths)
        why = f"The long tones go on with {first}: the same soft, steady air as at first."
        said = Said(said.title, said.about, why)
    layout = Layout((Fraction(4),))
    variants = [_spaced(day, group, layout, fifths) for group in groups]
    return part_of(day, "long-tones", said, variants, tempo_bpm, "easy")


def swells(day: Day, part: int, tempo_bpm: float) -> CoursePart:
    """Two notes a take that grow and fade over two bars each."""
    centre, name, fifths = _centre(day)
    said = Said(
        f"Swells around {name}",
        "Two bars a note, from soft to full and back: the pitch stays where it is.",
        f"Now the loudness moves: each note around {name} grows for a bar and fades for a bar.",
        HEARING,
    )
    groups = _groups(_outwards(day, centre), _SWELLS)
    layout = Layout((Fraction(8),))
    variants = [
        _spaced(day, group, layout, fifths) for group in _rotated(groups, day.number + part)
    ]
    return part_of(day, "swells", said, variants, tempo_bpm, "easy")


def attacks(day: Day, part: int, tempo_bpm: float) -> CoursePart:
    """A chord in short soft notes, each begun out of silence."""

    def line(ladders: Ladders, rungs: int) -> list[int]:
        return repeated(run(ladders, rungs), 2)

    layout = Layout((Fraction(1),), hold=False)
    bare = in_key(day, part, CHORDS["major"], line, (3, 2), layout)
    passage = lay(
        with_rests([note.pitch for note in bare.notes]),
        layout,
        title=bare.title,
        fifths=bare.fifths,
    )
    said = Said(
        f"Soft attacks, {bare.title}",
        "Every note begins out of silence: breathe, and let the tongue hardly touch.",
        f"Soft beginnings on {_the(bare.title)}: each note speaks at once, and none is pushed.",
    )
    return part_of(day, "attacks", said, [passage], tempo_bpm, "normal")


def range_parts(day: Day, tempo_bpm: float) -> list[CoursePart]:
    """Up a little beyond the comfortable range, then down: each take one note further."""
    wide = day.reach.beyond(day.outside_semitones)
    ends = [
        ("Upwards", "high", [p for p in wide.row() if p > day.reach.high], HIGH),
        ("Downwards", "low", [p for p in reversed(wide.row()) if p < day.reach.low], ""),
    ]
    return [_outside(day, *end, tempo_bpm=tempo_bpm) for end in ends if end[2]]


def _outside(
    day: Day, way: str, end: str, beyond: list[int], caution: str, tempo_bpm: float
) -> CoursePart:
    row = day.reach.row()
    inside = row[-_INWARDS_NOTES:] if end == "high" else row[_INWARDS_NOTES - 1 :: -1]
    layout = Layout((Fraction(1, 2),), slur_groups=())
    variants = []
    for far in range(1, len(beyond) + 1):
        there = [*inside, *beyond[:far]]
        variants.append(
            lay(
                [*there, *there[-2::-1]],
                layout,
                title=f"to {_name(day, beyond[far - 1])}",
                fifths=-1,
            )
        )
    last = _name(day, beyond[-1])
    said = Said(
        f"{way} to {last}",
        "Slurred, one note further each time; leave off where it no longer comes by itself.",
        f"{way} last and only a little, a note further each time and no further than {last}.",
        caution,
    )
    return part_of(day, "range", said, variants, tempo_bpm, "easy")


def _the(title: str) -> str:
    return title if title == SERIES else f"the {title}"


def _spaced(day: Day, pitches: Sequence[int], layout: Layout, fifths: int) -> Passage:
    """The notes with as much rest between them; the passage is named by them."""
    title = " ".join(_name(day, pitch, fifths) for pitch in pitches)
    return lay(with_rests(pitches), layout, title=title, fifths=fifths)


def _centre(day: Day) -> tuple[int, str, int]:
    """The note of the day's chord nearest the middle: sounding pitch, written name, signature.

    Where the instrument has none of them, the nearest note that it has.
    """
    chord, row, middle = CHORDS["major"], day.reach.row(), day.reach.middle
    key = all_keys(chord)[day.number % KEYS]
    tonic = tonic_from(key, 0) + day.reach.instrument.transposition
    in_chord = [pitch for pitch in row if (pitch - tonic) % 12 in chord.up]
    centre = min(in_chord or row, key=lambda pitch: (abs(pitch - middle), pitch))
    fifths = signature(key, chord)
    return centre, _name(day, centre, fifths), fifths


def _name(day: Day, pitch: int, fifths: int = -1) -> str:
    return name_of_midi(written_of_sounding(pitch, day.reach.instrument.transposition), fifths)


def _outwards(day: Day, centre: int) -> list[int]:
    """The comfortable notes up to a fifth from the centre, the nearest first, down before up."""
    near = [p for p in day.reach.row() if abs(p - centre) <= _FARTHEST_SEMITONES]
    return sorted(near, key=lambda pitch: (abs(pitch - centre), pitch))


def _groups(pitches: Sequence[int], size: int) -> list[list[int]]:
    """Whole groups of so many; what is too little for one is one group."""
    whole = [list(pitches[k : k + size]) for k in range(0, len(pitches) - size + 1, size)]
    return whole or [list(pitches)]


def _rotated(groups: list[list[int]], places: int) -> list[list[int]]:
    first = places % len(groups)
    return groups[first:] + groups[:first]
