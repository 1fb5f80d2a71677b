"""The ensemble sent as notes to a MIDI output instead of being sounded.

From the MIDI 1.0 specification: 0xCn program change, control 7 channel volume, control 10 pan
(0 left, 64 the middle, 127 right), control 123 all notes off.  From General MIDI: channel 10 is
percussion; volume v is 40 log10(v/127) dB.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

from coach.core.timeline import Plan, frame_of
from coach.core.tutti.ensemble import Ensemble
from coach.core.tutti.mixer import Mix
from coach.ports.around import TimedPort
from coach.ports.midi import NOTE_OFF, NOTE_ON
from coach.ports.midi_out import ALL_NOTES_OFF, CONTROL, PERCUSSION, SendingPort, Timed

PROGRAM = 0xC0
VOLUME, PAN = 7, 10
PAN_MIDDLE = 64
# The volume of a voice at 0 dB: the usual one after a reset, with room above.
USUAL_VOLUME = 100
CHANNELS = tuple(channel for channel in range(16) if channel != PERCUSSION)


def channel_of(voice: int) -> int:
    """The channel of a voice, from 0; more than fifteen voices share theirs in turn."""
    return CHANNELS[voice % len(CHANNELS)]


def setting_up(ensemble: Ensemble, mix: Mix, frame: int) -> list[Timed]:
    """(frame, message) of the program, the volume and the place of every voice."""
    programs = [
        (frame, (PROGRAM | channel_of(k), voice.program)) for k, voice in enumerate(ensemble.voices)
    ]
    return programs + levels(mix, frame)


def levels(mix: Mix, frame: int) -> list[Timed]:
    """(frame, message) of the volumes and the places."""
    return volumes(mix, frame) + places(mix, frame)


def volumes(mix: Mix, frame: int) -> list[Timed]:
    """(frame, message) of the volume of every voice; 0 for those that do not sound.  Voices that
    share a channel share its volume, the louder one's."""
    gains: dict[int, float] = {}
    for voice in range(len(mix.levels_db)):
        channel = channel_of(voice)
        gains[channel] = max(gains.get(channel, 0.0), mix.gain(voice))
    return [
        (frame, (CONTROL | channel, VOLUME, min(127, round(USUAL_VOLUME * math.sqrt(gain)))))
        for channel, gain in gains.items()
    ]


def places(mix: Mix, frame: int) -> list[Timed]:
    """(frame, message) of the pan of every voice.  Voices that share a channel share the mean of
    their places."""
    pans: dict[int, list[float]] = {}
    for voice in range(len(mix.levels_db)):
        pans.setdefault(channel_of(voice), []).append(mix.pan(voice))
    return [
        (frame, (CONTROL | channel, PAN, _pan_value(sum(shared) / len(shared))))
        for channel, shared in pans.items()
    ]


def _pan_value(pan: float) -> int:
    return PAN_MIDDLE + round(pan * (127 - PAN_MIDDLE if pan > 0 else PAN_MIDDLE))


def ensemble_notes(ensemble: Ensemble, plan: Plan, latency_ms: float = 0.0) -> list[Timed]:
    """(frame, message) of every note on and off, in order; all are sent `latency_ms` early, for a
    synthesiser that is late by so much.  Where a note ends as another begins, it ends first."""
    early = round(latency_ms * plan.rate / 1000)

    def frame(beats: Any) -> int:
        return frame_of(plan.exercise, plan.rate, plan.downbeat_frame, beats) - early

    made: list[Timed] = []
    for number, voice in enumerate(ensemble.voices):
        on, off = NOTE_ON | channel_of(number), NOTE_OFF | channel_of(number)
        for note in voice.notes:
            made.append((frame(note.start_beats), (on, note.pitch, note.velocity)))
            made.append((frame(note.end_beats), (off, note.pitch, 0)))
    return sorted(made, key=lambda timed: (timed[0], timed[1][0] & 0xF0 == NOTE_ON))


class EnsembleMidiPort(SendingPort):
    """Also plays the ensemble on a MIDI output.

    `ensemble_of` gives what is played with a plan, `mix` how loud at first.
    """

    def __init__(
        self,
        base: TimedPort,
        ensemble_of: Callable[[Plan], Ensemble],
        mix: Mix,
        wanted: str | None = None,
        midi_api: str = "auto",
        *,
        latency_ms: float = 0.0,
    ) -> None:
        super().__init__(base, wanted, midi_api)
        self._ensemble_of, self._mix = ensemble_of, mix
        self._latency_ms = latency_ms

    def set_mix(self, mix: Mix) -> None:
        """Change levels and places, while a take runs and for those to come."""
        self._mix = mix
        if self._sender is not None:
            self._sender.add(levels(mix, self._base.position()))

    def _messages(self, plan: Plan) -> list[Timed]:
        ensemble = self._ensemble_of(plan)
        before = setting_up(ensemble, self._mix, self._base.position())
        return before + ensemble_notes(ensemble, plan, self._latency_ms)

    def _stopping(self) -> tuple[tuple[int, ...], ...]:
        return _silencing()


def _silencing() -> tuple[tuple[int, ...], ...]:
    return tuple((CONTROL | channel, ALL_NOTES_OFF, 0) for channel in CHANNELS)
