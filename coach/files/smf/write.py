"""A passage to a MIDI file of format 1: a track of tempo, meter and key, and one of notes.

What MIDI has no events for stands beside the notes as `words` says, so that a file of ours comes
back as the same passage; other programs show it as text or not at all.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction
from itertools import chain

from coach.core.instrument import Instrument
from coach.core.passage import Note, Passage
from coach.core.patterns.layout import meters_as_long
from coach.core.pitch import moved_key
from coach.errors import CoachError
from coach.files.smf.words import ACCENT, FINGERING, OURS, SLUR

QUARTER_TICKS = 480
# The field has 15 bits.
_MOST_TICKS = 0x7FFF
# Where no number of ticks holds all fractions: 2^5 * 3^3 * 5 * 7, the nearest of them, at most a
# 60,000th of a quarter note off.
_FINEST_TICKS = 30_240
_SLOWEST_QUARTER_US = 0xFFFFFF
_LONGEST_DELTA = 0x0FFFFFFF
VELOCITY, ACCENT_VELOCITY = 80, 112
# General MIDI programs, counted from 0, by a part of the instrument's name; euphoniums have none
# of their own and sound like tubas.
_PROGRAMS = (
    ("flugelhorn", 56),
    ("trumpet", 56),
    ("cornet", 56),
    ("trombone", 57),
    ("tuba", 58),
    ("euphonium", 58),
    ("horn", 60),
)
_BRASS_SECTION = 61
UNITS = (1, 2, 4, 8, 16, 32, 64)

# One event: its tick and its bytes.
_Event = tuple[int, bytes]


def smf_bytes(passage: Passage, instrument: Instrument, tempo_bpm: float) -> bytes:
    """The file; `tempo_bpm` counts clicks of `passage.pulse_beats`.

    480 ticks a quarter note, or so many more that every fraction of the passage is a whole number
    of ticks; where 15 bits hold no such number, the nearest ticks of 30,240.  The key is the
    sounding one.  Slower than 3.58 quarter notes a minute MIDI cannot say: that is taken instead.
    CoachError where a pitch or a meter has no place in MIDI.
    """
    quarter = _ticks_a_quarter(passage)
    tracks = (
        _conductor(passage, instrument, tempo_bpm, quarter),
        _line(passage, instrument, quarter),
    )
    end = round(passage.length_beats * quarter)
    header = b"MThd" + b"".join(n.to_bytes(size, "big") for n, size in _header(quarter))
    return header + b"".join(_chunk(track, end) for track in tracks)


def _header(quarter: int) -> tuple[tuple[int, int], ...]:
    """Length, format, tracks, division, each with its number of bytes."""
    return (6, 4), (1, 2), (2, 2), (quarter, 2)


def _ticks_a_quarter(passage: Passage) -> int:
    times = chain(
        (note.start_beats for note in passage.notes),
        (note.length_beats for note in passage.notes),
        (change.start_beats for change in passage.changes),
    )
    needed = math.lcm(*{time.denominator for time in times})
    for ticks in (math.lcm(QUARTER_TICKS, needed), needed):
        if ticks <= _MOST_TICKS:
            return ticks
    return _FINEST_TICKS


def _conductor(
    passage: Passage, instrument: Instrument, tempo_bpm: float, quarter: int
) -> Iterator[_Event]:
    quarter_us = round(60e6 / (tempo_bpm * float(passage.pulse_beats)))
    fifths = moved_key(passage.fifths, instrument.transposition)
    if passage.title:
        yield 0, _meta(0x03, passage.title.encode())
    yield 0, _meta(0x51, min(max(quarter_us, 1), _SLOWEST_QUARTER_US).to_bytes(3, "big"))
    yield 0, _meta(0x59, fifths.to_bytes(1, "big", signed=True) + b"\0")
    yield 0, _meter(passage.bar_beats, passage.pulse_beats)
    for change in passage.changes:
        # A change behind the last note would make bars that the passage does not have.
        if change.start_beats < passage.length_beats:
            tick = round(change.start_beats * quarter)
            yield tick, _meter(change.bar_beats, change.pulse_beats)


def _line(passage: Passage, instrument: Instrument, quarter: int) -> Iterator[_Event]:
    yield 0, _meta(0x01, OURS.encode())
    yield 0, _meta(0x03, instrument.title.encode())
    yield 0, bytes((0xC0, _program(instrument.name)))
    for note in passage.notes:
        yield from _note(note, quarter)


def _note(note: Note, quarter: int) -> Iterator[_Event]:
    if not 0 <= note.pitch <= 127:
        raise CoachError(
            f"the note at beat {float(note.start_beats) + 1:g} has the pitch {note.pitch}",
            hint="MIDI has 0 to 127",
        )
    on = round(note.start_beats * quarter)
    off = max(round(note.end_beats * quarter), on + 1)
    for word in _words(note):
        yield on, word
    yield on, bytes((0x90, note.pitch, ACCENT_VELOCITY if note.accent else VELOCITY))
    yield off, bytes((0x80, note.pitch, 0))


def _words(note: Note) -> Iterator[bytes]:
    if note.slurred:
        yield _meta(0x01, SLUR.encode())
    if note.accent:
        yield _meta(0x01, ACCENT.encode())
    if note.fingering:
        yield _meta(0x01, f"{FINGERING}{note.fingering}".encode())
    if note.syllable:
        yield _meta(0x05, note.syllable.encode())


def _program(name: str) -> int:
    return next((program for part, program in _PROGRAMS if part in name), _BRASS_SECTION)


def _meter(bar_beats: Fraction, pulse_beats: Fraction) -> bytes:
    fits = meters_as_long(bar_beats, pulse_beats, UNITS, 255)
    if not fits:
        raise CoachError(
            f"no time signature has bars of {bar_beats} quarter notes",
            hint="MIDI counts bars in whole notes to 64th notes, 255 at most",
        )
    count, unit = fits[0]
    clocks = min(max(round(24 * pulse_beats), 1), 255)
    return _meta(0x58, bytes((count, unit.bit_length() - 1, clocks, 8)))


def _meta(kind: int, content: bytes) -> bytes:
    return bytes((0xFF, kind)) + _number(len(content)) + content


def _number(value: int) -> bytes:
    """A quantity of variable length: seven bits a byte, all but the last marked."""
    groups = [value & 0x7F]
    while value := value >> 7:
        groups.append(value & 0x7F | 0x80)
    return bytes(reversed(groups))


def _chunk(events: Iterable[_Event], end: int) -> bytes:
    content = b"".join(_timed(sorted(events, key=_order), end))
    return b"MTrk" + len(content).to_bytes(4, "big") + content


def _order(event: _Event) -> tuple[int, bool]:
    """By time; a note ends before the next begins."""
    return event[0], event[1][0] != 0x80


def _timed(events: Sequence[_Event], end: int) -> Iterator[bytes]:
    """Every event after its delta time, and the end of the track."""
    before = 0
    last = max(end, events[-1][0])
    for tick, event in (*events, (last, _meta(0x2F, b""))):
        if tick - before > _LONGEST_DELTA:
            raise CoachError("the rest is too long for MIDI", hint="cut the passage there")
        yield _number(tick - before) + event
        before = tick
