"""The ensemble as a track: every note on its frame, mixed as the mixer says."""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from coach.core.timeline import Plan, frame_of
from coach.core.tutti.ensemble import Ensemble, Voice
from coach.core.tutti.mixer import Mix
from coach.ports.channels import alike
from coach.ports.click import Samples, Track
from coach.ports.ensemble.voicing import NoteKey, Waves, velocity_gain

# It goes into somebody's ears, and the own horn must be heard over it.
LOUDEST_DB = -12.0
# Peak of many voices against the root of their added powers: 1.6 to 2.4 in random chords of 2 to 30
# voices with the embedded sounds.
CREST = 2.0
# Up to here samples pass as they are.
KNEE = np.float32(0.5)


@dataclass(frozen=True, slots=True)
class _Line:
    """The notes of one voice in order of time."""

    starts: tuple[int, ...]
    keys: tuple[NoteKey, ...]
    longest: int


class EnsembleTrack:
    """An ensemble laid out by a plan; the first sample of each note that is not silent falls on the
    frame of its beat (`timeline.frame_of`).

    Mono while all voices are in the middle, else stereo.  The level is set so that the fullest
    chord of all voices peaks near -12 dB of full scale, whatever is muted (near -9 dB on one side
    if all of them are there); nothing goes above full scale.
    """

    def __init__(self, ensemble: Ensemble, plan: Plan, mix: Mix, waves: Waves) -> None:
        self.mix = mix
        self._waves = waves
        frame = _frames(plan)
        self._lines = tuple(_line(voice, frame) for voice in ensemble.voices)
        self._gain = _headroom(self._lines)
        self.start_frame = min((one.starts[0] for one in self._lines if one.starts), default=0)
        ends = [one.starts[-1] + one.longest for one in self._lines if one.starts]
        self.end_frame = max(ends, default=0) + waves.voicing.tail_frames

    def mixed(self, mix: Mix) -> EnsembleTrack:
        """The same with other levels; shares all that is laid out and made."""
        other: EnsembleTrack = object.__new__(EnsembleTrack)
        other.__dict__.update(self.__dict__, mix=mix)
        return other

    def render(self, frame: int, length_frames: int) -> Samples:
        """The samples from `frame`: float32 of shape (length_frames,), or (length_frames, 2), left
        and right, once a voice is out of the middle."""
        # A row for each side: it is ten times quicker than a column.
        rows = np.zeros((2 if self.mix.wide else 1, length_frames), np.float32)
        for number, line in enumerate(self._lines):
            gain = self._gain * self.mix.gain(number)
            if gain > 0:
                sound = self._sum(line, frame, length_frames)
                for row, side in zip(rows, self.mix.sides(number), strict=False):
                    row += np.float32(gain * side) * sound
        return limited(rows).T if self.mix.wide else limited(rows[0])

    def prepare(self, frame: int, length_frames: int) -> None:
        """Make the notes of a window ahead of time; may run in another thread."""
        for number, line in enumerate(self._lines):
            if self.mix.sounds(number):
                for start, key in self._within(line, frame, length_frames):
                    if start >= frame:
                        self._waves.wave(key)

    def _sum(self, line: _Line, frame: int, length_frames: int) -> Samples:
        out = np.zeros(length_frames, np.float32)
        for start, key in self._within(line, frame, length_frames):
            wave = self._waves.wave(key)
            begin, end = max(start, frame), min(start + len(wave), frame + length_frames)
            if begin < end:
                out[begin - frame : end - frame] += wave[begin - start : end - start]
        return out

    def _within(self, line: _Line, frame: int, length_frames: int) -> list[tuple[int, NoteKey]]:
        """The notes that may sound in a window."""
        tail = self._waves.voicing.tail_frames
        first = bisect_left(line.starts, frame - line.longest - tail)
        last = bisect_left(line.starts, frame + length_frames)
        return [
            (start, key)
            for start, key in zip(line.starts[first:last], line.keys[first:last], strict=True)
            if start + key.length_frames + tail > frame
        ]


class Mixed:
    """Several tracks at once, never above full scale; stereo if any of them is."""

    def __init__(self, *tracks: Track) -> None:
        self._tracks = tracks

    def render(self, frame: int, length_frames: int) -> Samples:
        silence = np.zeros(length_frames, np.float32)
        out, *made = alike([silence, *(t.render(frame, length_frames) for t in self._tracks)])
        for sound in made:
            out += sound
        return limited(out)


def limited(samples: Samples) -> Samples:
    """As it is up to half of full scale, bent softly towards full scale above; sample by sample,
    so it does not matter how a sound is cut."""
    over = np.abs(samples) > KNEE
    if np.any(over):
        loud = samples[over]
        bent = KNEE + (1 - KNEE) * np.tanh((np.abs(loud) - KNEE) / (1 - KNEE))
        samples[over] = np.sign(loud) * bent
    return samples


def _frames(plan: Plan) -> Callable[[Fraction], int]:
    """The frame of a beat; each is worked out once, since the voices share most of theirs."""
    known: dict[Fraction, int] = {}

    def frame(beats: Fraction) -> int:
        if beats not in known:
            known[beats] = frame_of(plan.exercise, plan.rate, plan.downbeat_frame, beats)
        return known[beats]

    return frame


def _line(voice: Voice, frame: Callable[[Fraction], int]) -> _Line:
    notes = sorted(
        (frame(note.start_beats), frame(note.end_beats), note.pitch, note.velocity)
        for note in voice.notes
    )
    keys = tuple(
        NoteKey(voice.program, pitch, velocity, end - start)
        for start, end, pitch, velocity in notes
    )
    longest = max((key.length_frames for key in keys), default=0)
    return _Line(tuple(start for start, *_ in notes), keys, longest)


def _headroom(lines: Sequence[_Line]) -> float:
    """The gain at which the fullest chord peaks near `LOUDEST_DB`; nothing soft is made louder.
    Of different pitches the powers add, of the same pitch the samples."""
    moves: list[tuple[int, float, int]] = []
    for line in lines:
        for start, key in zip(line.starts, line.keys, strict=True):
            gain = velocity_gain(key.velocity)
            moves += [(start, gain, key.pitch), (start + key.length_frames, -gain, key.pitch)]
    sounding: dict[int, float] = {}
    power = most = 0.0
    # At the same frame what ends goes first.
    for _, change, pitch in sorted(moves):
        before = sounding.get(pitch, 0.0)
        sounding[pitch] = before + change
        power += sounding[pitch] ** 2 - before**2
        most = max(most, power)
    return float(10 ** (LOUDEST_DB / 20) / max(1.0, CREST * math.sqrt(most)))
