"""A course as text, for golden files that people can read."""

from __future__ import annotations

from collections.abc import Iterator

from coach.core.course import Course, CoursePart, blowing_s, length_s, resting_s
from coach.core.instrument import Instrument
from coach.core.passage import Passage
from coach.files.drillwrite import note_words


def text_of(course: Course, instrument: Instrument) -> str:
    """Every part with its times, words and notes, written as the player reads them."""
    lines = [f"{course.title} ({course.length_s:.0f} s)"]
    for number, part in enumerate(course.parts, 1):
        lines += ["", *_part(number, part, instrument)]
    return "\n".join(lines) + "\n"


def _part(number: int, part: CoursePart, instrument: Instrument) -> Iterator[str]:
    drill = part.drill
    tempo = f"{drill.from_bpm:g}"
    tempo += f" to {drill.to_bpm:g}" if drill.to_bpm != drill.from_bpm else ""
    yield f"{number}. {drill.title}: {part.takes} x at {tempo}, rest {part.rest_s:g} s"
    yield f"   {part.why}"
    if part.caution:
        yield f"   ! {part.caution}"
    yield (
        f"   {length_s(part):.0f} s, of them {blowing_s(part):.0f} blown,"
        f" {resting_s(part):.0f} rested"
    )
    for passage in drill.variants:
        yield f"   | {_passage(passage, instrument)}"


def _passage(passage: Passage, instrument: Instrument) -> str:
    way = "" if passage.way == "played" else f" [{passage.way}]"
    share = "" if passage.tempo_share == 1 else f" [x {passage.tempo_share:g}]"
    words, at = [], passage.notes[0].start_beats
    for note in passage.notes:
        words += ["-"] if note.start_beats > at else []
        words.append(note_words(note, instrument, passage.fifths) + (" >" if note.accent else ""))
        at = note.end_beats
    return f"{passage.title}{way}{share}: {', '.join(words)}"
