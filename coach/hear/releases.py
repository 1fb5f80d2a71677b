"""Around another ear: where chosen notes stop.

While the take runs the sound around the written ends of these notes is only put aside, as the ear
itself hears it (click and ensemble taken out); it is measured once the take is over (`bend`).  From
MIDI the end is the note-off.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import Protocol

import numpy as np

from coach.core.take import Chunk, Evidence, Gap, NoteEvent
from coach.core.timeline import Due
from coach.hear.bend import Samples, stop_frame

# Of the sound before and after the written end: a note that stops earlier or later is not told.
BEFORE_S, AFTER_S, AROUND_S = 2.0, 0.8, 0.1
# What comes next leaks into the level that soon before it.
LEAK_S = 0.03
FAR_S = 0.5

Listen = Callable[[int, Samples], None]


class Wrapped(Protocol):
    """What is wrapped: any ear."""

    @property
    def clipped(self) -> bool: ...

    def feed(self, chunk: Chunk) -> Evidence: ...

    def finish(self) -> Evidence: ...


@dataclass(slots=True)
class _Stretch:
    """The sound (in order, each with its frame) and the MIDI notes of one pitch (start, end or
    None) around a written end, `next_frame` being the next note's start."""

    due: Due
    from_frame: int
    until_frame: int
    next_frame: int
    pieces: list[tuple[int, Samples]] = field(default_factory=list)
    keys: list[tuple[int, int | None]] = field(default_factory=list)

    def take(self, frame: int, samples: Samples) -> None:
        low = max(0, self.from_frame - frame)
        high = min(len(samples), self.until_frame - frame)
        if low < high:
            self.pieces.append((frame + low, samples[low:high].copy()))

    def turn(self, note: NoteEvent, far: int) -> None:
        if note.pitch != self.due.pitch:
            return
        if note.on and note.velocity > 0:
            if self.due.frame - far <= note.frame < self.until_frame:
                self.keys.append((note.frame, None))
        elif self.keys and self.keys[-1][1] is None:
            self.keys[-1] = self.keys[-1][0], note.frame


class ReleaseEar:
    """The ear that `make` makes, which is to call its argument with all that it listens to (frame,
    float32 (n,)); of the `dues` (frames at `rate`) the ends of those in `chosen` are told.

    What that ear tells is passed on as it is, but that it waits for the last of these ends.
    After `finish`, `releases` is the end frame of each of these that could be told: not of a note
    that was not heard, that does not fall silent before the next, or whose sound was lost.
    """

    def __init__(
        self,
        dues: Sequence[Due],
        rate: int,
        chosen: Iterable[int],
        make: Callable[[Listen], Wrapped],
    ) -> None:
        self.rate = rate
        self.releases: dict[int, int] = {}
        self._stretches = [_stretch(dues, index, rate) for index in chosen]
        self._attacks: dict[int, int] = {}
        self._lost: list[Gap] = []
        self._inner = make(self._listen)

    @property
    def clipped(self) -> bool:
        return self._inner.clipped

    def feed(self, chunk: Chunk) -> Evidence:
        for note in sorted(chunk.notes, key=lambda note: note.frame):
            for stretch in self._stretches:
                stretch.turn(note, round(FAR_S * self.rate))
        evidence = self._noted(self._inner.feed(chunk))
        waits = chunk.end_frame < max((s.until_frame for s in self._stretches), default=0)
        return replace(evidence, waiting=evidence.waiting or waits)

    def finish(self) -> Evidence:
        evidence = self._noted(self._inner.finish())
        for stretch in self._stretches:
            end = self._end(stretch)
            if end is not None:
                self.releases[stretch.due.index] = end
        self._stretches.clear()
        return evidence

    def _listen(self, frame: int, samples: Samples) -> None:
        for stretch in self._stretches:
            stretch.take(frame, samples)

    def _noted(self, evidence: Evidence) -> Evidence:
        self._lost += [gap for gap in evidence.gaps if gap.cause == "lost"]
        for attack in (*evidence.attacks, *evidence.refined):
            if attack.due is not None:
                self._attacks[attack.due] = attack.frame
        return evidence

    def _end(self, stretch: _Stretch) -> int | None:
        due = stretch.due
        if stretch.keys:
            return min(stretch.keys, key=lambda key: abs(key[0] - due.frame))[1]
        start = self._attacks.get(due.index)
        if start is None or not stretch.pieces or self._is_lost(stretch):
            return None
        origin = stretch.pieces[0][0]
        sound = np.concatenate([samples for _, samples in stretch.pieces])
        following = self._attacks.get(due.index + 1, stretch.next_frame)
        limit = min(len(sound), following - origin - round(LEAK_S * self.rate))
        found = stop_frame(sound, self.rate, due.pitch, max(0, start - origin), max(0, limit))
        return None if found is None else origin + found

    def _is_lost(self, stretch: _Stretch) -> bool:
        return any(
            gap.frame < stretch.until_frame and gap.end_frame > stretch.from_frame
            for gap in self._lost
        )


def _stretch(dues: Sequence[Due], index: int, rate: int) -> _Stretch:
    due = dues[index]
    end, around = due.frame + due.length_frames, round(AROUND_S * rate)
    until = end + round(AFTER_S * rate)
    following = dues[index + 1].frame if index + 1 < len(dues) else until
    begin = max(due.frame - around, end - round(BEFORE_S * rate))
    return _Stretch(due, begin, min(until, following + around), following)
