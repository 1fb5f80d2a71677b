"""The outside of a MIDI file: wrapping, header, and where the tracks lie.

Standard MIDI Files 1.0 (RP-001): chunks of a four-letter name, a length in four bytes, and data;
"MThd" first, then "MTrk"s; chunks of another name are to be skipped.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from coach.errors import FileError
from coach.files.smf.song import Division

# An hour of a full orchestra takes some 1 MB; every byte costs about a microsecond to read.
MOST_BYTES = 8 << 20
# Frames a second by what the division byte says; 29 stands for 29.97 (drop frame).
_FRAMES_A_SECOND = {
    24: Fraction(24),
    25: Fraction(25),
    29: Fraction(30_000, 1001),
    30: Fraction(30),
}
_NAME_BYTES = frozenset(range(32, 127))


@dataclass(frozen=True, slots=True)
class Header:
    """What stands in "MThd"; `at` is the first byte after it."""

    kind: int
    tracks: int
    division: Division
    at: int


def song_bytes(data: bytes, where: str) -> tuple[int, int]:
    """From which byte to which the MIDI file itself goes: inside a RIFF wrapping, or all."""
    if not data:
        raise FileError("the file is empty", where, "a MIDI file begins with MThd")
    if len(data) > MOST_BYTES:
        raise FileError(
            f"the file has {len(data) >> 20} MB, more than the {MOST_BYTES >> 20} MB of any score",
            where,
            "cut it down to the parts you need",
        )
    if data[:4] == b"RIFF" and data[8:12] == b"RMID":
        return _inside_riff(data, where)
    return 0, len(data)


def _inside_riff(data: bytes, where: str) -> tuple[int, int]:
    at = 12
    while at + 8 <= len(data):
        length = int.from_bytes(data[at + 4 : at + 8], "little")
        if data[at : at + 4] == b"data":
            return at + 8, min(at + 8 + length, len(data))
        at += 8 + length + length % 2
    raise FileError("the RIFF wrapping holds no MIDI data", where, "export the file once more")


def header_at(data: bytes, start: int, end: int, where: str) -> Header:
    if data[start : start + 4] != b"MThd":
        raise FileError("this is no MIDI file", where, "a MIDI file begins with MThd")
    if end - start < 14:
        raise FileError(
            "the file ends inside its header", f"{where}, byte {end}", "export it once more"
        )
    length = int.from_bytes(data[start + 4 : start + 8], "big")
    kind, tracks, division = (
        int.from_bytes(data[at : at + 2], "big") for at in range(start + 8, start + 14, 2)
    )
    if length < 6 or kind > 2:
        raise FileError(
            f"the header says length {length} and format {kind}; MIDI files have length 6 and "
            "format 0, 1 or 2",
            f"{where}, byte {start + 4}",
            "export the file once more",
        )
    return Header(
        kind, tracks, _division(division, f"{where}, byte {start + 12}"), start + 8 + length
    )


def _division(value: int, where: str) -> Division:
    if not value & 0x8000:
        if not value:
            raise FileError("a quarter note has 0 ticks", where, "export the file once more")
        return Division(Fraction(value))
    frames, ticks = 256 - (value >> 8), value & 0xFF
    if frames not in _FRAMES_A_SECOND or not ticks:
        raise FileError(
            f"the time code says {frames} frames a second of {ticks} ticks; it can be 24, 25, 29 "
            "or 30 frames of 1 to 255 ticks",
            where,
            "export the file once more, with ticks in a quarter note",
        )
    return Division(_FRAMES_A_SECOND[frames] * ticks / 2, real_time=True)


def is_chunk(data: bytes, at: int, end: int) -> bool:
    """Whether a chunk, the end, or a rest too short to be anything stands at byte `at`."""
    return at + 8 >= end or _NAME_BYTES.issuperset(data[at : at + 4])
