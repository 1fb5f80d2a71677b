"""Notes sent to an instrument on a MIDI output, and what the microphone hears of them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from coach.core.timeline import Plan
from coach.ports.midi import NOTE_OFF, NOTE_ON
from coach.ports.midi_out import SendingPort, Timed
from coach.ports.roundtrip_io import ProbeRecording, read_until

# The piano of General MIDI: it speaks at once.
PROGRAM, PIANO, PITCH, VELOCITY = 0xC0, 0, 72, 100
NOTE_S, APART_S, AFTER_S = 0.25, 0.9, 1.0
SETTLES_S = 0.5


class CallingPort(SendingPort):
    """A port around another that sends single notes."""

    def call(self, frames: Sequence[int]) -> None:
        """Notes that are sent when these frames are captured."""
        assert self._sender is not None
        length = round(NOTE_S * self.rate)
        messages: list[Timed] = [(frames[0] - length, (PROGRAM, PIANO))]
        for frame in frames:
            messages.append((frame, (NOTE_ON, PITCH, VELOCITY)))
            messages.append((frame + length, (NOTE_OFF, PITCH, 0)))
        self._sender.schedule(messages, self._base.time_at, self._stopping())

    def _messages(self, plan: Plan) -> list[Timed]:
        return []

    def _stopping(self) -> tuple[tuple[int, ...], ...]:
        return ((NOTE_OFF, PITCH, 0),)


def record_answers(port: Any, count: int = 8) -> ProbeRecording:
    """Call the instrument `count` times, and record until the last note has died away."""
    # The port learns from what comes in which frame it is when.
    read_until(port, port.read().end_frame + round(SETTLES_S * port.rate))
    first = port.earliest_frame() + port.rate // 2
    frames = [first + k * round(APART_S * port.rate) for k in range(count)]
    port.call(frames)
    chunks = read_until(port, frames[-1] + round(AFTER_S * port.rate))
    samples = np.concatenate([np.asarray(c.samples, np.float32) for c in chunks])
    start = chunks[0].frame
    return ProbeRecording(samples, tuple(f - start for f in frames), port.rate)
