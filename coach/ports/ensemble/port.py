"""A port around the sound port that plays the ensemble with the click.

The sound port renders its whole ring at once (20 s), so the notes are made beforehand in a thread,
from the play head on, and what is ready is put in; until then the sound from before goes on.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Protocol, Self

import numpy as np

from coach.core.take import Chunk
from coach.core.timeline import Plan
from coach.core.tutti.mixer import Mix
from coach.ports.around import TimedAround, TimedPort
from coach.ports.channels import alike, mono
from coach.ports.click import SILENCE, ClickTrack, Samples, Track
from coach.ports.ensemble.track import Mixed

PIECE_S, AHEAD_S = 2.0, 30.0
# What was played out is known so long after the end of a plan.
AFTER_S = 10.0


class Playing(TimedPort, Protocol):
    """What is wrapped: a port that sounds any track."""

    def play(self, track: Track) -> None: ...


class Laid(Track, Protocol):
    """The ensemble laid out for a plan, made from notes or out of a recording."""

    start_frame: int
    end_frame: int

    def prepare(self, frame: int, length_frames: int) -> None: ...
    def mixed(self, mix: Mix) -> Self: ...


class EnsemblePort(TimedAround):
    """The same port, and while a take runs the ensemble sounds.

    `make_track` lays the ensemble out for a plan; `background` False makes every note on the spot.
    """

    _base: Playing

    def __init__(
        self,
        base: Playing,
        make_track: Callable[[Plan], Laid],
        *,
        background: bool = True,
    ) -> None:
        super().__init__(base)
        self._make_track = make_track
        self._background = background
        self._mix: Mix | None = None
        self._track: Laid | None = None
        self._clicks: Track = SILENCE
        self._sounding: Track = SILENCE
        self._making: _Making | None = None
        self._played = _Played(SILENCE, 0, 0)

    def close(self) -> None:
        self._stop_making()
        super().close()

    def begin(self, plan: Plan) -> None:
        """The click at once, the ensemble as soon as it is laid out: the count-in comes first."""
        self._stop_making()
        self._clicks = ClickTrack(plan)
        end = plan.end_frame + round(AFTER_S * plan.rate)
        self._played = _Played(self._clicks, plan.start_frame, end - plan.start_frame)
        self._sound(self._clicks)
        track = self._make_track(plan)
        self._take_up(track if self._mix is None else track.mixed(self._mix))

    def end(self) -> None:
        self._stop_making()
        self._track = None
        self._sound(SILENCE)

    def set_mix(self, mix: Mix) -> None:
        """Change levels and places, while a take runs and for those to come."""
        self._mix = mix
        if self._track is not None:
            self._stop_making()
            self._take_up(self._track.mixed(mix))

    def heard_out(self, frame: int, length_frames: int) -> Samples:
        """What left for the loudspeaker, clicks and all, float32 (length_frames,): of the take that
        runs or ran last; silence elsewhere.  Of stereo it is the mean.  (What lies ahead may still
        change.)"""
        return self._played.since(frame, length_frames)

    @property
    def ready(self) -> bool:
        """All that the sound port holds ahead has been made."""
        return self._making is None

    def read(self) -> Chunk:
        self._put_in()
        return self._base.read()

    def _take_up(self, track: Laid) -> None:
        self._track = track
        if self._background:
            start = max(self._base.earliest_frame(), track.start_frame)
            self._making = _Making(track, start, self.rate)
        else:
            self._sound(Mixed(self._clicks, track))

    def _put_in(self) -> None:
        """Sound what the thread has made since it was last looked at."""
        making = self._making
        if making is None or self._track is None:
            return
        whole = Mixed(self._clicks, self._track)
        if making.done:
            self._making = None
            self._sound(whole)
        elif making.taken_frame < making.ready_frame:
            making.taken_frame = making.ready_frame
            before = self._sounding
            self._sound(_Joined(whole, making.ready_frame, before))
            self._sounding = before

    def _sound(self, track: Track) -> None:
        self._sounding = track
        self._played.track = track
        self._base.play(self._played)

    def _stop_making(self) -> None:
        if self._making is not None:
            self._making.stop()
            self._making = None


class _Making:
    """A thread that makes the notes of a track from a frame on, in pieces."""

    def __init__(self, track: Laid, start_frame: int, rate: int) -> None:
        self.ready_frame = self.taken_frame = start_frame
        self.done = False
        self._stopped = False
        self._track, self._piece = track, round(PIECE_S * rate)
        self._until = min(start_frame + round(AHEAD_S * rate), track.end_frame)
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def stop(self) -> None:
        self._stopped = True
        self._thread.join()

    def _run(self) -> None:
        while self.ready_frame < self._until and not self._stopped:
            self._track.prepare(self.ready_frame, self._piece)
            self.ready_frame += self._piece
        self.done = True


class _Joined:
    """One track up to a frame, another from there on."""

    def __init__(self, first: Track, until_frame: int, then: Track) -> None:
        self._first, self._until, self._then = first, until_frame, then

    def render(self, frame: int, length_frames: int) -> Samples:
        before = min(max(self._until - frame, 0), length_frames)
        parts = [self._first.render(frame, before)] if before else []
        if before < length_frames:
            parts.append(self._then.render(frame + before, length_frames - before))
        return np.concatenate(alike(parts)) if parts else np.zeros(0, np.float32)


class _Played:
    """A track that remembers what was last rendered of every frame from `start_frame` on."""

    def __init__(self, track: Track, start_frame: int, length_frames: int) -> None:
        self.track = track
        self._start = start_frame
        # The system gives the memory as it is written to.
        self._kept = np.zeros(length_frames, np.float32)

    def render(self, frame: int, length_frames: int) -> Samples:
        made = self.track.render(frame, length_frames)
        begin, end = self._within(frame, length_frames)
        if begin < end:
            kept = mono(made[begin - frame : end - frame])
            self._kept[begin - self._start : end - self._start] = kept
        return made

    def since(self, frame: int, length_frames: int) -> Samples:
        out = np.zeros(length_frames, np.float32)
        begin, end = self._within(frame, length_frames)
        if begin < end:
            kept = self._kept[begin - self._start : end - self._start]
            out[begin - frame : end - frame] = kept
        return out

    def _within(self, frame: int, length_frames: int) -> tuple[int, int]:
        last = self._start + len(self._kept)
        return max(frame, self._start), min(frame + length_frames, last)
