"""Play probes through a sound port and record what comes back.

`hear.roundtrip` makes the probe and finds the delay in the recording.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from coach.core.take import Chunk
from coach.ports.click import Placed, Samples, Track

APART_S = 0.5
AFTER_S = 0.7


class ReadingPort(Protocol):
    def read(self) -> Chunk: ...


class SoundingPort(ReadingPort, Protocol):
    @property
    def rate(self) -> int: ...
    def earliest_frame(self) -> int: ...
    def play(self, track: Track) -> None: ...
    def end(self) -> None: ...


@dataclass(frozen=True, slots=True)
class ProbeRecording:
    """`samples` float32 (n,); `sent_frames` count from the first of them."""

    samples: Samples
    sent_frames: tuple[int, ...]
    rate: int


def record_probes(port: SoundingPort, probe: Samples, count: int = 6) -> ProbeRecording:
    """Play the probe `count` times, half a second apart, and record until the last has died away.

    With a port of round_trip_frames 0 the delay found is the round trip itself.
    """
    apart = len(probe) + round(APART_S * port.rate)
    first = port.earliest_frame()
    frames = [first + k * apart for k in range(count)]
    port.play(Placed((frame, probe) for frame in frames))
    try:
        chunks = read_until(port, frames[-1] + len(probe) + round(AFTER_S * port.rate))
    finally:
        port.end()
    samples = np.concatenate([np.asarray(c.samples, np.float32) for c in chunks])
    start = chunks[0].frame
    return ProbeRecording(samples, tuple(f - start for f in frames), port.rate)


def record(port: SoundingPort, length_frames: int) -> Samples:
    """Record in silence, to measure the level of the room or of the player."""
    chunks = [port.read()]
    chunks += read_until(port, chunks[0].frame + length_frames)
    return np.concatenate([np.asarray(c.samples, np.float32) for c in chunks])


def read_until(port: ReadingPort, frame: int) -> Sequence[Chunk]:
    """All that is captured up to a frame."""
    chunks = [port.read()]
    while chunks[-1].end_frame < frame:
        chunks.append(port.read())
    return chunks
