"""The [passage] table of a drill file, turned into passages of written pitch."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

from coach.core.passage import WAYS, Note, Passage
from coach.core.patterns import keys as scales
from coach.core.patterns import lines
from coach.core.patterns.keys import Ladder, Mode
from coach.core.patterns.layout import held, lay, moved, returning
from coach.errors import FileError
from coach.files.drillparts import (
    changes_of,
    direction_of,
    holds,
    keys_of,
    layout_of,
    length_of,
    meter_of,
    named_pitch,
    octaves_of,
    pitch_of,
    signature_of,
)
from coach.files.notewords import FINGERING_FORM, NOTE_FORM, in_order, is_fingering, note_of
from coach.files.toml import Table, nearest

MOST_NOTES = 2000
MOST_BARS = 400
TURN = (0, 1, 0, -1)


def passages_of(table: Table) -> tuple[Passage, ...]:
    """The variants that a [passage] table describes, in written pitch; FileError if it is wrong."""
    if ("notes" in table) == ("kind" in table):
        what = f"{table.name} needs either a kind or notes"
        raise FileError(what, str(table.path), f"kinds: {', '.join(sorted(KINDS))}")
    way, share = table.choice("way", WAYS, "played"), table.number("tempo_share", 0.1, 2, 1)
    if "notes" in table:
        passages = _moved_by(table, [_spelled_out(table)])
    else:
        kind = table.text("kind")
        if kind not in KINDS:
            raise table.wrong("kind", f"a known one; {nearest(kind, KINDS)}")
        passages = KINDS[kind](table)
    table.finish()
    for passage in passages:
        check_size(passage, table.name, table.path)
    return tuple(replace(passage, way=way, tempo_share=share) for passage in passages)


def check_size(passage: Passage, maker: str, path: Path) -> None:
    """FileError if a passage is too long for one take; `maker` is the table that made it."""
    bars = len(passage.bars)
    if len(passage.notes) > MOST_NOTES or bars > MOST_BARS:
        what = f"{maker} makes {len(passage.notes)} notes in {bars} bars"
        hint = f"at most {MOST_NOTES} notes and {MOST_BARS} bars fit in one take"
        raise FileError(what, str(path), hint)


def _scale(table: Table) -> list[Passage]:
    octaves, direction = octaves_of(table), direction_of(table)
    return _in_keys(
        table, scales.SCALES, lambda m, at: lines.run(at, octaves * len(m.up), direction)
    )


def _chord(table: Table) -> list[Passage]:
    octaves, direction = octaves_of(table), direction_of(table)
    group = table.whole("group", 1, 4, 1)
    shape = tuple(range(group))

    def line(mode: Mode, at: lines.Ladders) -> list[int]:
        rungs = octaves * len(mode.up)
        if group == 1:
            return lines.run(at, rungs, direction)
        return lines.figures(at, rungs, shape, direction, inside=True)

    return _in_keys(table, scales.CHORDS, line)


def _intervals(table: Table) -> list[Passage]:
    octaves = octaves_of(table)
    interval = table.whole("interval", 2, 7 * octaves + 1)
    return _figures(table, octaves, (0, interval - 1))


def _turns(table: Table) -> list[Passage]:
    return _figures(table, octaves_of(table), TURN)


def _figure(table: Table) -> list[Passage]:
    octaves = octaves_of(table)
    shape = table.wholes("shape", -6, 7 * octaves + 1)
    return _figures(table, octaves, tuple(number - 1 for number in shape))


def _figures(table: Table, octaves: int, shape: Sequence[int]) -> list[Passage]:
    direction, inside = direction_of(table), table.flag("inside", False)

    def line(mode: Mode, at: lines.Ladders) -> list[int]:
        return lines.figures(at, octaves * len(mode.up), shape, direction, inside=inside)

    return _in_keys(table, scales.SCALES, line)


def _growing(table: Table) -> list[Passage]:
    largest = table.whole("largest", 2, 16, 8)
    return _in_keys(table, scales.SCALES, lambda _, at: lines.growing(at[0], largest))


def _repeated(table: Table) -> list[Passage]:
    octaves, direction, times = octaves_of(table), direction_of(table), table.whole("times", 2, 16)
    return _in_keys(
        table,
        scales.SCALES,
        lambda m, at: lines.repeated(lines.run(at, octaves * len(m.up), direction), times),
    )


def _chromatic(table: Table) -> list[Passage]:
    ladder = Ladder(pitch_of(table, "from"), scales.CHROMATIC)
    line = lines.run((ladder, ladder), table.whole("semitones", 1, 48, 12), direction_of(table))
    return _moved_by(table, [lay(line, layout_of(table), fifths=signature_of(table))])


def _long_tones(table: Table) -> list[Passage]:
    start = pitch_of(table, "from")
    line = lines.with_rests([start + step for step in table.wholes("steps", -36, 36)])
    length = length_of(table, "note_value", "1/1")
    rest = length_of(table, "rest", table.text("note_value", "1/1"))
    layout = replace(meter_of(table), rhythm_beats=(length, rest), hold=False)
    return _moved_by(table, [lay(line, layout, fifths=signature_of(table))])


def _one_note(table: Table) -> list[Passage]:
    line = [pitch_of(table, "note")] * table.whole("count", 1, MOST_NOTES)
    return _moved_by(table, [lay(line, layout_of(table), fifths=signature_of(table))])


def _partials(table: Table) -> list[Passage]:
    names = table.texts("fundamentals", allowed='a list of written notes such as ["C2", "B1"]')
    fingerings = table.texts("fingerings", allowed='a list of fingerings such as ["0", "2"]')
    for place, fingering in enumerate(fingerings):
        if not is_fingering(fingering):
            raise table.wrong_entry("fingerings", place, FINGERING_FORM)
    if len(fingerings) != len(names):
        raise table.wrong("fingerings", f"as long as {table.name}.fundamentals: {len(names)}")
    numbers = table.wholes("partials", 1, 16)
    layout, fifths = layout_of(table), signature_of(table)
    made = []
    for place, fingering in enumerate(fingerings):
        fundamental = named_pitch(table, "fundamentals", names[place], place)
        line = lines.partials(fundamental, numbers)
        passage = lay(line, layout, title=f"fingering {fingering}", fifths=fifths)
        made.append(replace(passage, notes=_fingered(passage.notes, fingering)))
    return made


def _fingered(notes: Sequence[Note], fingering: str) -> tuple[Note, ...]:
    return tuple(replace(note, fingering=fingering) for note in notes)


def _sequence(table: Table) -> list[Passage]:
    passage, length = _from_words(table, "figure")
    moves = table.wholes("moves", -36, 36)
    if len(moves) * len(passage.notes) > MOST_NOTES:
        raise table.wrong("moves", f"short enough for {MOST_NOTES} notes in all")
    whole = returning(passage, length, moves)
    return _moved_by(table, [held(whole) if holds(table) else whole])


def _spelled_out(table: Table) -> Passage:
    passage, _ = _from_words(table, "notes")
    first_bar = table.whole("first_bar", 0, 99_999, 1)
    changes = changes_of(table, passage.bar_beats, first_bar)
    passage = replace(passage, changes=changes, first_bar=first_bar)
    return held(passage) if holds(table, "rest") else passage


KINDS: dict[str, Callable[[Table], list[Passage]]] = {
    "scale": _scale,
    "chord": _chord,
    "intervals": _intervals,
    "turns": _turns,
    "figure": _figure,
    "growing": _growing,
    "repeated": _repeated,
    "chromatic": _chromatic,
    "long_tones": _long_tones,
    "one_note": _one_note,
    "partials": _partials,
    "sequence": _sequence,
}


def _in_keys(
    table: Table, modes: dict[str, Mode], line: Callable[[Mode, lines.Ladders], list[int]]
) -> list[Passage]:
    """One passage a key, each from its first tonic at or above `from`."""
    mode = modes[table.choice("mode", modes, "major")]
    lowest, layout = pitch_of(table, "from"), layout_of(table)
    made = []
    for key in keys_of(table, mode):
        ladders = mode.ladders(scales.tonic_from(key, lowest))
        title, fifths = f"{key} {mode.title}", scales.signature(key, mode)
        made.append(lay(line(mode, ladders), layout, title=title, fifths=fifths))
    return made


def _moved_by(table: Table, passages: list[Passage]) -> list[Passage]:
    """Variants of passages that have no keys of their own: each moved by so many semitones."""
    moves = table.wholes("moved_by", -36, 36, (0,))
    return [moved(passage, semitones) for semitones in moves for passage in passages]


def _from_words(table: Table, key: str) -> tuple[Passage, Fraction]:
    entries = []
    allowed = f"a list of notes, each {NOTE_FORM}"
    for place, text in enumerate(table.texts(key, allowed=allowed, most=MOST_NOTES)):
        try:
            entries.append(note_of(text))
        except ValueError as error:
            raise table.wrong_entry(key, place, str(error)) from None
    try:
        notes, length = in_order(entries)
    except ValueError as error:
        raise table.wrong(key, f"playable, but {error}") from None
    if not notes:
        raise table.wrong(key, "at least one note, not rests alone")
    meter = meter_of(table)
    passage = Passage(
        tuple(notes), "", meter.bar_beats, meter.pulse_beats, fifths=signature_of(table)
    )
    return passage, length
