"""The sound port: one duplex stream open for the whole session, clicks out, sound in.

Whatever thread the engine runs copies samples and nothing else; all below happens in the thread
that calls `read`.  Output frame k and input frame k pass through the same callback, so both are one
count.  The axis of the session is that count plus the frames lost so far.  A click that leaves at
output frame D comes back `round_trip_frames` later and is reported at D.

The output ring holds some seconds of clicks ahead.  When the plan changes (`begin`, `end`), or
frames are lost, what lies ahead is simply rendered again.
"""

from __future__ import annotations

import contextlib
from dataclasses import replace

import numpy as np

from coach.core.take import Chunk, Gap
from coach.core.timeline import Plan
from coach.errors import DeviceAwayError, DeviceError
from coach.ports.away import Away
from coach.ports.click import SILENCE, ClickTrack, Samples, Track
from coach.ports.clock import LossWatch, now_s, wait
from coach.ports.engine import Engine
from coach.ports.leaving import leave_open
from coach.ports.settings import SoundSettings

READ_WAIT_S = 0.010
LOOK_EVERY_S = 0.002
SILENT_LIMIT_S = 2.0
# What passes between two looks counts as silence no longer than this: we may have stood still.
LOOK_LIMIT_S = 0.1
# A stream that stands still may go on by itself: it is left alone for so long first.
STALL_S = 6.0
# A loss is told no longer than this: no take goes on after it.
LOSS_LIMIT_S = 10.0
# What lies nearer than this to the play head is left alone.
NEAR_S = 0.03


class SoundPort:
    """A `roles.Port` over an engine; also a context manager.

    `round_trip_frames` comes from calibration (0: not calibrated).  DeviceError comes from `open`
    and `read` when the device fails; from `read` as DeviceAwayError as long as it may come back.
    """

    ended = False

    def __init__(self, engine: Engine, settings: SoundSettings, round_trip_frames: int = 0) -> None:
        self.round_trip_frames = round_trip_frames
        self._engine = engine
        self._nothing = np.zeros((0, engine.players), np.float32)
        self._settings = settings
        self._track: Track = SILENCE
        self._shift = 0
        self._captured = 0
        self._rendered = 0
        self._emitted = 0
        self._held: list[Samples] = []
        self._owed_frames = 0
        self._warnings = 0
        self._looked_s = self._silent_s = 0.0
        self._away: Away | None = None

    def __enter__(self) -> SoundPort:
        return self.open()

    def __exit__(self, *_: object) -> None:
        self.close()

    @property
    def rate(self) -> int:
        return self._engine.rate

    @property
    def notice(self) -> str:
        """What is not as it was asked for; empty if nothing."""
        wanted = self._settings.rate
        if self.rate == wanted:
            return ""
        return f"{self._engine.name} cannot run at {wanted} Hz: it runs at {self.rate} Hz."

    def open(self) -> SoundPort:
        """Start the stream; DeviceError if there is no such device or it refuses."""
        self._engine.open()
        self._watch = LossWatch(self.rate, self._engine.block_frames)
        self._start()
        return self

    def close(self) -> None:
        if self._away is not None and self._away.busy:
            leave_open(self._engine)
        else:
            self._engine.close()

    def earliest_frame(self) -> int:
        return self._head() + round(self._settings.lead_s * self.rate)

    def position(self) -> int:
        return self._captured + self._shift - self.round_trip_frames

    def frame_at(self, at_s: float) -> float:
        """The frame of this axis that is captured at a time of `clock.now_s`."""
        return self._watch.clock.frame_at(at_s) - self.round_trip_frames

    def time_at(self, frame: float) -> float:
        """When a frame is captured; the inverse of `frame_at`."""
        return self._watch.clock.time_at(frame + self.round_trip_frames)

    def begin(self, plan: Plan) -> None:
        self.play(ClickTrack(plan))

    def end(self) -> None:
        self.play(SILENCE)

    def play(self, track: Track) -> None:
        """Sound a track from here on in place of the one before."""
        self._track = track
        self._render_again()

    def read(self) -> Chunk:
        if self._away is not None:
            self._await(self._away)
        until_s = now_s() + READ_WAIT_S
        chunk = self._pump()
        while chunk.length_frames == 0 and now_s() < until_s:
            wait(LOOK_EVERY_S)
            chunk = self._pump()
        return chunk

    def _pump(self) -> Chunk:
        if not self._engine.alive:
            raise self._failure("the sound device stopped")
        flowing = self._engine.flowing
        samples = self._engine.taken()
        looked_s = now_s()
        self._check_silence(len(samples), looked_s)
        self._captured += len(samples)
        self._held.append(samples)
        if not flowing:
            return self._resume()
        lost = self._lost(looked_s)
        if lost:
            self._lose(lost)
        else:
            self._render_ahead()
        return self._empty() if lost is None else self._released()

    def _lose(self, lost: int) -> None:
        longest = round(LOSS_LIMIT_S * self.rate)
        if lost > longest:
            # Its true length would hold up what comes next: the clock is tied to the frames anew.
            lost, self._watch = longest, LossWatch(self.rate, self._engine.block_frames)
        self._shift += lost
        self._owed_frames += lost
        self._render_again()

    def _lost(self, looked_s: float) -> int | None:
        warnings = self._engine.warnings
        flagged, self._warnings = warnings > self._warnings, warnings
        return self._watch.step(self._captured + self._shift, looked_s, flagged=flagged)

    def _check_silence(self, came: int, at_s: float) -> None:
        passed_s, self._looked_s = at_s - self._looked_s, at_s
        self._silent_s = 0.0 if came else self._silent_s + min(passed_s, LOOK_LIMIT_S)
        if self._silent_s > SILENT_LIMIT_S:
            raise self._failure("no sound has come for two seconds")

    def _failure(self, what: str) -> DeviceError:
        hint = "see that it is plugged in and not in use, then start again"
        stands = self._engine.alive
        if not (stands or self._engine.may_return):
            return DeviceError(what, self._engine.name, hint)
        error = DeviceAwayError(what, self._engine.name, hint)
        self._away = Away(error, self._again, STALL_S if stands else 0.0)
        return error

    def _await(self, away: Away) -> None:
        """Returns once the device is there again."""
        rate = self.rate
        if not self._goes_on(away) and not away.back():
            raise away.error
        if self.rate != rate:
            what = f"it came back with {self.rate} frames a second in place of {rate}"
            raise DeviceError(what, self._engine.name, "start again")
        self._away = None

    def _goes_on(self, away: Away) -> bool:
        """Whether a stream that stood still does so by itself."""
        if away.busy or not self._engine.alive or not len(self._engine.taken()):
            return False
        with contextlib.suppress(DeviceError):
            self._start_anew()
            return True
        return False

    def _again(self) -> None:
        self._engine.again()
        self._start_anew()

    def _start_anew(self) -> None:
        """After a take was given up: nothing from before is told, or counted as lost."""
        self._watch = LossWatch(self.rate, self._engine.block_frames)
        self._held.clear()
        self._owed_frames = 0
        self._start()
        self._emitted = self._shift

    def _resume(self) -> Chunk:
        """A ring ran over or dry: release what came before, start again.  The frames lost in
        between show as slack, and the watch turns them into a gap."""
        chunk = self._released()
        self._start()
        return chunk

    def _start(self) -> None:
        self._engine.prepare()
        self._shift += self._captured
        self._captured = self._rendered = 0
        # One warning ahead: even a short loss around a restart is to be seen.
        self._warnings = -1
        self._looked_s, self._silent_s = now_s(), 0.0
        self._render_ahead()
        self._engine.go()

    def _released(self) -> Chunk:
        """What is owed in silence first, a second at a time, then what was held."""
        if self._owed_frames:
            length = min(self._owed_frames, self.rate)
            self._owed_frames -= length
            gaps: tuple[Gap, ...] = (Gap(self._next_frame(), length),)
            samples = np.zeros((length, self._engine.players), np.float32)
        else:
            gaps = ()
            samples = np.concatenate(self._held) if self._held else self._nothing
            self._held.clear()
        chunk = self._chunk(samples, gaps)
        self._emitted += len(samples)
        return chunk

    def _empty(self) -> Chunk:
        return self._chunk(self._nothing, ())

    def _chunk(self, samples: Samples, gaps: tuple[Gap, ...]) -> Chunk:
        """The first channel, the others beside it."""
        frame, length = self._next_frame(), len(samples)
        first, *beside = (
            Chunk(frame, length, np.ascontiguousarray(channel), gaps=gaps)  # type: ignore[arg-type]
            for channel in samples.T
        )
        return replace(first, beside=tuple(beside))

    def _next_frame(self) -> int:
        return self._emitted - self.round_trip_frames

    def _head(self) -> int:
        """The axis frame at the play head."""
        return self._engine.played() + self._shift

    def _render_ahead(self) -> None:
        room = self._engine.played() + self._engine.ring_frames - 2 * self._engine.block_frames
        length = room - self._rendered
        if length > 0:
            samples = self._track.render(self._rendered + self._shift, length)
            self._engine.store(self._rendered, samples)
            self._rendered = room

    def _render_again(self) -> None:
        near = self._engine.played() + round(NEAR_S * self.rate)
        self._rendered = min(self._rendered, near)
        self._render_ahead()


def open_sound(
    settings: SoundSettings,
    input_device: str | None = None,
    output_device: str | None = None,
    *,
    round_trip_frames: int = 0,
    listens: bool = True,
    channels: tuple[int, ...] = (),
) -> SoundPort:
    """A sound port, not opened yet, with the engine that the settings name.

    Devices by name or number, None for the system's choice.  `channels` are the input channels, one
    for each player (else the one of the settings).  With `listens` False only the click goes out
    (for playing by MIDI) and the chunks are silent.
    """
    inputs = (channels or (settings.input_channel,)) if listens else ()
    if settings.engine == "c":
        from coach.ports.sound_c import CEngine

        engine: Engine = CEngine(settings, input_device, output_device, inputs=inputs)
    else:
        from coach.ports.sound_py import PythonEngine

        engine = PythonEngine(settings, input_device, output_device, inputs=inputs)
    return SoundPort(engine, settings, round_trip_frames)
