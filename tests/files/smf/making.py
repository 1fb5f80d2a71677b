"""MIDI files put together by hand for the tests."""

from __future__ import annotations

END = b"\x00\xff\x2f\x00"


def number(value: int) -> bytes:
    """A quantity of variable length."""
    groups = [value & 0x7F]
    while value := value >> 7:
        groups.append(value & 0x7F | 0x80)
    return bytes(reversed(groups))


def song(*tracks: bytes, kind: int = 1, division: int = 480, promised: int | None = None) -> bytes:
    count = len(tracks) if promised is None else promised
    head = b"MThd" + bytes((0, 0, 0, 6, 0, kind)) + count.to_bytes(2, "big")
    return head + division.to_bytes(2, "big") + b"".join(chunk(track) for track in tracks)


def chunk(content: bytes, name: bytes = b"MTrk", length: int | None = None) -> bytes:
    told = len(content) if length is None else length
    return name + told.to_bytes(4, "big") + content


def meta(kind: int, content: bytes, after: int = 0) -> bytes:
    return number(after) + bytes((0xFF, kind)) + number(len(content)) + content


def played(*notes: tuple[int, int, int], channel: int = 0) -> bytes:
    """Events of notes (on tick, off tick, pitch) and the end; ends come before beginnings."""
    events = []
    for on, off, pitch in notes:
        events += [(on, 1, bytes((0x90 | channel, pitch, 64)))]
        events += [(off, 0, bytes((0x80 | channel, pitch, 0)))]
    made, before = b"", 0
    for tick, _, event in sorted(events):
        made += number(tick - before) + event
        before = tick
    return made + END


def line(*notes: tuple[int, int, int], division: int = 480) -> bytes:
    """A file of one track of these notes."""
    return song(played(*notes), kind=0, division=division)
