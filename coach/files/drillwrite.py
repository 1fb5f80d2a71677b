"""A passage to a drill file: notes spelled out in written pitch, read back by `drillfile`."""

from __future__ import annotations

import json
import os
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path

from coach.core.exercise import ClickStyle
from coach.core.instrument import Instrument
from coach.core.passage import Note, Passage
from coach.core.patterns.layout import meters_as_long, pulse_of_meter
from coach.core.pitch import name_of_midi, written_of_sounding
from coach.errors import CoachError, FileError
from coach.files.configs import own_folder
from coach.files.notewords import LONGEST_BEATS, beats_of, is_syllable
from coach.files.output import check_free, is_device, private_folder, write_whole, writing

MOST_IN_BAR = 16
_NAME = re.compile(r"[a-z0-9][a-z0-9_-]{0,63}")


@dataclass(frozen=True, slots=True)
class Heading:
    """What stands around the notes; meter and key as drill files spell them."""

    title: str
    about: str
    meter: str
    key: str
    from_bpm: float
    to_bpm: float
    click: ClickStyle = field(default_factory=ClickStyle)


def drill_text(passage: Passage, instrument: Instrument, heading: Heading) -> str:
    """The drill file of a passage that sounds on `instrument`.

    ValueError without notes and for a meter that there is not, CoachError for a length that drill
    files do not hold."""
    if not passage.notes:
        raise ValueError("there are no notes to write")
    words = list(_entries(passage, instrument))
    return "\n".join(
        [
            f"title = {_quoted(heading.title)}",
            f"about = {_quoted(heading.about)}",
            f"instrument = {_quoted(instrument.name)}",
            "",
            "[passage]",
            "notes = [",
            *(f"  {_quoted(entry)}," for entry in words),
            "]",
            f"meter = {_quoted(heading.meter)}",
            *_meters(passage),
            f"key = {_quoted(heading.key)}",
            *_taken(passage),
            "",
            "[tempo]",
            f"from = {heading.from_bpm:g}",
            f"to = {heading.to_bpm:g}",
            "",
            *_click(heading.click),
        ]
    )


def _meters(passage: Passage) -> Iterator[str]:
    """What the first bar is called, and the meters of later bars by their numbers."""
    bar, at, bar_beats = passage.first_bar, Fraction(0), passage.bar_beats
    if bar != 1:
        yield f"first_bar = {bar}"
    entries = []
    for change in passage.changes:
        bar += int((change.start_beats - at) / bar_beats)
        at, bar_beats = change.start_beats, change.bar_beats
        entries.append(f"{bar}: {meter_named(change.bar_beats, change.pulse_beats)}")
    if entries:
        yield f"meters = [{', '.join(map(_quoted, entries))}]"


def _taken(passage: Passage) -> Iterator[str]:
    """How the passage is taken, where that is not as usual."""
    if passage.way != "played":
        yield f"way = {_quoted(passage.way)}"
    if passage.tempo_share != 1:
        yield f"tempo_share = {passage.tempo_share!r}"


def _click(style: ClickStyle) -> Iterator[str]:
    """What of the click is unlike the usual: parts of the beat, and bars of silence."""
    usual = ClickStyle()
    if (style.subdivision, style.off_bars) == (usual.subdivision, usual.off_bars):
        return
    yield "[click]"
    yield f"subdivision = {style.subdivision}"
    if style.off_bars:
        yield "off_bars = [{}, {}]".format(*style.off_bars)
    yield ""


def meter_of(passage: Passage) -> str:
    """The first meter as drill files spell it, such as "6/8"; ValueError if there is none."""
    return meter_named(passage.bar_beats, passage.pulse_beats)


def meter_named(bar_beats: Fraction, pulse_beats: Fraction) -> str:
    """The meter whose bars and clicks are that long; ValueError if there is none."""
    for count, unit in meters_as_long(bar_beats, pulse_beats, (4, 8, 2, 16), MOST_IN_BAR)[:1]:
        if pulse_of_meter(count, unit) == pulse_beats:
            return f"{count}/{unit}"
    raise ValueError(f"no meter has bars of {bar_beats} and clicks of {pulse_beats}")


def is_drill_name(name: str) -> bool:
    """Whether a drill may be called so, on any system."""
    return _NAME.fullmatch(name) is not None and not is_device(name)


def drill_path(name: str) -> Path:
    """Where a drill called `name` is kept: among the user's own, or at a path ending in .toml."""
    path = Path(os.path.expanduser(name))
    if path.suffix.lower() == ".toml":
        return path
    if not is_drill_name(name):
        hint = "use small letters, digits and hyphens, or a path that ends in .toml"
        raise FileError(f"{json.dumps(name)} is no name for a drill", "", hint)
    return own_folder() / "drills" / f"{name}.toml"


def write_drill(path: Path, text: str, *, replace: bool = False) -> None:
    """Write the file; FileError if it is there already (unless `replace`) or can't be written."""
    check_free(path, replace=replace, what="drill")
    with writing(path):
        private_folder(path.parent)
    write_whole(path, text)


def note_words(note: Note, instrument: Instrument, fifths: int) -> str:
    """One note as drill files spell it, such as "G4 1/8 slur"."""
    written = written_of_sounding(note.pitch, instrument.transposition)
    parts = [name_of_midi(written, fifths), _length(note.length_beats)]
    if note.slurred:
        parts.append("slur")
    if note.accent:
        parts.append("accent")
    if note.syllable and is_syllable(note.syllable):
        parts.append(note.syllable)
    if note.fingering:
        parts.append(note.fingering)
    return " ".join(parts)


def _entries(passage: Passage, instrument: Instrument) -> Iterator[str]:
    """Notes and the rests between them; what is longer than a file allows is cut up."""
    at = Fraction(0)
    for note in passage.notes:
        yield from (f"rest {part}" for part in _parts(note.start_beats - at))
        yield note_words(note, instrument, passage.fifths)
        at = note.end_beats


def _parts(beats: Fraction) -> Iterator[str]:
    while beats > 0:
        part = min(beats, LONGEST_BEATS)
        yield _length(part)
        beats -= part


def _length(beats: Fraction) -> str:
    whole = beats / 4
    text = f"{whole.numerator}/{whole.denominator}"
    try:
        beats_of(text)
    except ValueError as error:
        what = f"a note of {text} of a whole note can't be written in a drill file"
        raise CoachError(what, "", f"its length has to be {error}") from None
    return text


def _quoted(text: str) -> str:
    """A TOML basic string: JSON's escapes, and no control characters."""
    clean = "".join(letter if letter.isprintable() else " " for letter in text)
    return json.dumps(clean, ensure_ascii=False)
