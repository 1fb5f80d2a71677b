"""The inside of a track: delta times and events, by Standard MIDI Files 1.0 (RP-001).

Our own reader, because mido 1.3.3 gives up on three of the 36 files of the SMF test suite that
others play (a chunk that is no track, running status after a system exclusive message, the
undefined status F5) and takes time codes for negative ticks.

More is taken than the standard allows where the meaning is plain: running status goes on after
meta and exclusive events; system messages that belong on a cable only (F1 to FE) are skipped.
"""

from __future__ import annotations

from collections import defaultdict, deque
from dataclasses import dataclass, field

from coach.errors import FileError
from coach.files.smf.song import SongNote, Track
from coach.files.smf.words import plain_text

# The longest of 25 symphonic movements measured has 21,076 notes in all its parts; a file with
# five times as many is no score, and a note costs up to 0.1 ms on its way.
MOST_NOTES = 100_000
# Tempo, meter, key and texts: a tempo drawn as a curve has some thousands.
MOST_MARKS = 100_000
_TWO_DATA_BYTES = frozenset((0x8, 0x9, 0xA, 0xB, 0xE))
_SYSTEM_DATA = {0xF1: 1, 0xF2: 2, 0xF3: 1}
_TEXT, _TRACK_NAME, _INSTRUMENT, _LYRIC = 0x01, 0x03, 0x04, 0x05
_END, _TEMPO, _METER, _KEY = 0x2F, 0x51, 0x58, 0x59
_MARKS = frozenset((_TEXT, _LYRIC, _TEMPO, _METER, _KEY))
# Unit of a meter as a power of two: 64th notes are the shortest that a bar is counted in.
_SMALLEST_UNIT = 6


@dataclass(slots=True)
class Odd:
    """What was put right or left out, counted over the whole file."""

    notes: int = 0
    marks: int = 0
    system: int = 0
    endless: int = 0
    empty: int = 0
    stray_ends: int = 0
    meters: int = 0
    keys: int = 0
    tempos: int = 0
    unclosed: int = 0


@dataclass(slots=True)
class TrackReader:
    """Reads the events of one track between two bytes."""

    data: bytes
    at: int
    end: int
    number: int
    where: str
    odd: Odd
    tick: int = 0
    status: int = 0
    closed: bool = False
    name: str = ""
    instrument: str = ""
    sounds: list[list[int]] = field(default_factory=list)
    open: dict[tuple[int, int], deque[int]] = field(default_factory=lambda: defaultdict(deque))
    programs: dict[int, int] = field(default_factory=dict)
    tempos: list[tuple[int, int]] = field(default_factory=list)
    meters: list[tuple[int, int, int]] = field(default_factory=list)
    keys: list[tuple[int, int]] = field(default_factory=list)
    texts: list[tuple[int, str]] = field(default_factory=list)
    lyrics: list[tuple[int, str]] = field(default_factory=list)

    def read(self) -> Track:
        """All events up to the end of the track; FileError names the track and the byte."""
        while self.at < self.end and not self.closed:
            self.tick += self._number()
            self._event()
        if not self.closed:
            self.odd.unclosed += 1
        self._stop_endless()
        return Track(
            self.number,
            self.name,
            self.instrument,
            tuple(SongNote(*sound) for sound in self.sounds if sound[3] > sound[2]),
            self.programs,
            tuple(self.tempos),
            tuple(self.meters),
            tuple(self.keys),
            tuple(self.texts),
            tuple(self.lyrics),
            self.tick,
        )

    def _event(self) -> None:
        byte = self._byte()
        if byte < 0x80:
            if not self.status:
                raise self._wrong(f"{byte:02X} stands where an event must begin", self.at - 1)
            self._channel_event(self.status, byte)
        elif byte < 0xF0:
            self.status = byte
            self._channel_event(byte, self._data_byte())
        elif byte == 0xFF:
            self._meta(self._byte(), self._taken(self._number()))
        elif byte in (0xF0, 0xF7):
            self._taken(self._number())
        else:
            self.odd.system += 1
            self._taken(_SYSTEM_DATA.get(byte, 0))

    def _channel_event(self, status: int, first: int) -> None:
        kind, channel = status >> 4, status & 0x0F
        second = self._data_byte() if kind in _TWO_DATA_BYTES else 0
        if kind == 0x9 and second:
            self._begin(channel, first)
        elif kind in (0x8, 0x9):
            self._stop(channel, first)
        elif kind == 0xC:
            self.programs.setdefault(channel, first)

    def _begin(self, channel: int, pitch: int) -> None:
        """A note on the same pitch struck again ends the one before."""
        self.odd.notes += 1
        if self.odd.notes > MOST_NOTES:
            raise self._wrong(f"there are more than {MOST_NOTES:,} notes, too many for a score")
        waiting = self.open[channel, pitch]
        if waiting:
            self._close(waiting[-1])
        waiting.append(len(self.sounds))
        self.sounds.append([channel, pitch, self.tick, -1])

    def _stop(self, channel: int, pitch: int) -> None:
        """Ends come in the order of the beginnings, also where a note struck again came between."""
        waiting = self.open[channel, pitch]
        if waiting:
            self._close(waiting.popleft())
        else:
            self.odd.stray_ends += 1

    def _close(self, place: int) -> None:
        sound = self.sounds[place]
        if sound[3] < 0:
            sound[3] = self.tick
            self.odd.empty += self.tick == sound[2]

    def _stop_endless(self) -> None:
        """A note that never ends goes on to the next one of its channel, else to the end."""
        later: dict[int, int] = {}
        following: dict[int, int] = {}
        for sound in reversed(self.sounds):
            channel, _, on, off = sound
            if on != later.get(channel):
                following[channel], later[channel] = later.get(channel, self.tick), on
            if off < 0:
                self.odd.endless += 1
                sound[3] = following[channel]

    def _meta(self, kind: int, content: bytes) -> None:
        self.odd.marks += kind in _MARKS
        if self.odd.marks > MOST_MARKS:
            raise self._wrong(f"there are more than {MOST_MARKS:,} tempi, meters, keys and texts")
        if kind == _END:
            self.closed = True
        elif kind == _TRACK_NAME:
            self.name = self.name or plain_text(content)
        elif kind == _INSTRUMENT:
            self.instrument = self.instrument or plain_text(content)
        elif kind == _TEXT:
            self.texts.append((self.tick, plain_text(content)))
        elif kind == _LYRIC:
            self.lyrics.append((self.tick, plain_text(content)))
        elif kind == _TEMPO:
            self._tempo(content)
        elif kind == _METER:
            self._meter(content)
        elif kind == _KEY:
            self._key(content)

    def _tempo(self, content: bytes) -> None:
        quarter_us = int.from_bytes(content[:3], "big")
        if len(content) < 3 or not quarter_us:
            self.odd.tempos += 1
        else:
            self.tempos.append((self.tick, quarter_us))

    def _meter(self, content: bytes) -> None:
        if len(content) < 2 or not content[0] or content[1] > _SMALLEST_UNIT:
            self.odd.meters += 1
        else:
            self.meters.append((self.tick, content[0], 1 << content[1]))

    def _key(self, content: bytes) -> None:
        fifths = int.from_bytes(content[:1], "big", signed=True)
        if not content or abs(fifths) > 7:
            self.odd.keys += 1
        else:
            self.keys.append((self.tick, fifths))

    def _byte(self) -> int:
        if self.at >= self.end:
            raise self._wrong("the track ends in the middle of an event")
        self.at += 1
        return self.data[self.at - 1]

    def _data_byte(self) -> int:
        byte = self._byte()
        if byte > 0x7F:
            raise self._wrong(f"{byte:02X} stands where a value up to 7F must stand", self.at - 1)
        return byte

    def _number(self) -> int:
        """A quantity of variable length: seven bits a byte, at most four bytes."""
        value, start = 0, self.at
        for _ in range(4):
            byte = self._byte()
            value = value << 7 | byte & 0x7F
            if byte < 0x80:
                return value
        raise self._wrong("a number has more than four bytes", start)

    def _taken(self, length: int) -> bytes:
        if length > self.end - self.at:
            raise self._wrong(
                f"an event says that it has {length:,} bytes, the track has {self.end - self.at:,}"
            )
        self.at += length
        return self.data[self.at - length : self.at]

    def _wrong(self, what: str, at: int | None = None) -> FileError:
        place = self.at if at is None else at
        return FileError(
            what,
            f"{self.where}, track {self.number}, byte {place}",
            "export the file once more, or leave this track out",
        )
