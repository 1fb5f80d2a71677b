"""The stretch of a recording that belongs to an excerpt: its tempo, its sound, its stage."""

from __future__ import annotations

import argparse
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from coach.cli.stage import CHECKED_AT, Stage
from coach.core.tutti.bars import Positions, warp_from
from coach.core.tutti.ensemble import Ensemble, Voice
from coach.core.tutti.mixer import Mix
from coach.core.tutti.place import check_inside
from coach.errors import CoachError

if TYPE_CHECKING:
    from coach.core.exercise import Drill
    from coach.core.score.choose import Choice
    from coach.core.score.model import Score
    from coach.core.timeline import Plan

# So much of the file before the excerpt and after it is kept: what `ports/recording` lets sound,
# and what the filter between two rates reaches over.
BEFORE_S, AFTER_S = 0.5, 2.5
# The loudest moment of the excerpt has this level, as the fullest chord of made sound has (peaks at
# -12 dB, 6 dB of crest).  What is nearly silent is not made loud.
LOUDEST_RMS_DB, WINDOW_S, MOST_GAIN = -18.0, 0.4, 10.0


@dataclass(slots=True)
class Tape:
    """`samples` (float32 (n,)) at the rate of `positions`, which count frames of them, and beats of
    the excerpt."""

    samples: Any
    positions: Positions

    def applied(
        self, drill: Drill, ensemble: Ensemble, args: argparse.Namespace
    ) -> tuple[Drill, Ensemble]:
        """Both at the tempo of the recording, which is the goal."""
        from coach.files.scoredrill import FASTEST_BPM, SLOWEST_BPM, START_SHARE

        pulse = drill.variants[0].pulse_beats
        own_bpm = round(self.positions.usual_bpm / float(pulse), 1)
        goal_bpm = min(max(own_bpm, SLOWEST_BPM), FASTEST_BPM)
        _check_tempi(args, goal_bpm)
        warp = warp_from(self.positions, goal_bpm, pulse)
        from_bpm = max(SLOWEST_BPM, round(START_SHARE * goal_bpm))
        drill = replace(drill, from_bpm=from_bpm, to_bpm=goal_bpm, warp=warp)
        return drill, replace(ensemble, warp=warp)

    def track(self, ensemble: Ensemble, plan: Plan) -> Any:
        """It laid along a plan of the excerpt."""
        from coach.core.timeline import frame_of
        from coach.ports.recording import RecordingTrack

        self.bring_to(plan.rate)
        onsets = {note.start_beats for voice in ensemble.voices for note in voice.notes}
        planned = [
            frame_of(plan.exercise, plan.rate, plan.downbeat_frame, beat)
            for beat in self.positions.beats
        ]
        gain = loudness_gain(self.samples, plan.rate)
        return RecordingTrack(self.samples, self.positions, planned, sorted(onsets), gain=gain)

    def bring_to(self, rate: int) -> None:
        """To the rate of the sound card: a second or two of work, once."""
        if rate != self.positions.rate:
            self.samples = resampled(self.samples, self.positions.rate, rate)
            self.positions = self.positions.at_rate(rate)


def _check_tempi(args: argparse.Namespace, own_bpm: float) -> None:
    """CoachError for a tempo at which the recording can't be played."""
    from coach.ports.recording import FASTEST_SPEED, SLOWEST_SPEED

    for given in (args.from_bpm, args.to_bpm):
        if given is not None and not SLOWEST_SPEED < given / own_bpm < FASTEST_SPEED:
            what = f"the recording, at {own_bpm:g} a minute, can't be played at {given:g}"
            span = f"{SLOWEST_SPEED * own_bpm:.0f} and {FASTEST_SPEED * own_bpm:.0f}"
            raise CoachError(what, "", f"choose a tempo between {span}")


def resampled(samples: Any, rate: int, to_rate: int) -> Any:
    """A sound (float32 (n,)) at another rate, all of it."""
    import numpy as np

    from coach.hear.resample import Resampler

    by = Resampler(rate, to_rate)
    return by.feed(np.concatenate([samples, np.zeros(by.delay_frames + 1, np.float32)]))


def loudness_gain(samples: Any, rate: int) -> float:
    """What brings the loudest moment of a sound to LOUDEST_RMS_DB."""
    import numpy as np

    window = max(1, round(WINDOW_S * rate))
    starts = np.arange(0, len(samples), window)
    power = np.add.reduceat(np.square(samples, dtype=np.float64), starts) / window
    loudest = float(np.sqrt(power.max()))
    return float(min(MOST_GAIN, 10 ** (LOUDEST_RMS_DB / 20) / max(loudest, 1e-9)))


class RecordedStage(Stage):
    """The recording on the sound card; its mixer has one voice, which is all of it."""

    def __init__(self, tape: Tape, ensemble: Ensemble) -> None:
        alone = replace(ensemble, voices=(Voice("Recording", 0, ()),), own=-1)
        # The notes of the score are not sounded: they say where attacks are.
        super().__init__(alone, Mix((0.0,)), lambda rate: None)
        self.written, self._tape = ensemble, tape
        tape.bring_to(CHECKED_AT)

    def _track(self, plan: Plan) -> Any:
        return self._tape.track(self.written, plan)


def made_tape(args: argparse.Namespace, score: Score, choice: Choice) -> Tape:
    """The bars chosen, with their lead-in, out of the recording.

    CoachError where it has not these bars; FileError for a file that can't be read.
    """
    from coach.cli.barsof import BarsInPiece, positions_of
    from coach.files.audio import read_audio

    path = Path(args.recording)
    page = BarsInPiece.of(score, choice, args.lead)
    positions = positions_of(args, path, page)
    check_inside(positions, page.whole.bars, *page.entry)
    inside = positions.between(page.start, page.start + page.excerpt.ensemble.length_beats)
    first = max(0, inside.frames[0] - round(BEFORE_S * inside.rate))
    samples, rate = read_audio(path, first, inside.frames[-1] + round(AFTER_S * inside.rate))
    if rate != inside.rate:
        said = f"its bars are known at {inside.rate} frames a second, not at {rate}"
        raise CoachError(said, "", "find them again with --new-bars")
    return Tape(samples, replace(inside, frames=tuple(frame - first for frame in inside.frames)))
