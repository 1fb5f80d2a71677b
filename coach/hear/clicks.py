"""Taking the coach's own click out of the microphone.

When the click sounds is known to the frame; how it sounds in this room is learned from the count-in
and taken away at every later click, its gain and its delay fitted each time.  A click that nobody
hears in the microphone (headphones) changes nothing: the samples come out as they went in.  So do
the samples away from clicks, at once; near a click they are held back until it has been fitted.

**When a removal is not trusted** (`masked`, over the loud part of the click):
the player has been heard, and what the removal is expected to leave (the click's level less what
the count-in clicks leave when each is removed by the others) comes within `CLEAR_DB` of the loudest
that the player has been heard away from clicks; or the click is of a kind that the count-in did not
hold, while others were heard.  Silence under a removed click is not masked: there a note is missed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from coach.core.take import Gap
from coach.hear.clickfit import ClickState, Fitted, fit_click
from coach.hear.clicklessons import ANY, Waves, waves_anywhere, waves_of
from coach.hear.clickwave import EARLY_S, ClickWave, shifted, span_frames
from coach.hear.playedlevel import LEVEL_S, PlayedLevel

Samples = NDArray[np.float32]
Floats = NDArray[np.float64]

FIT_BEFORE_S, FIT_S = 0.008, 0.025
REACH_S, MOVED_S = 0.001, 0.003
CLEAR_DB = 10.0
HEARD_DB = 6.0


@dataclass(frozen=True, slots=True)
class _Overlay:
    """Sound to be taken away from `frame` on."""

    frame: int
    wave: Samples


class ClickRemover:
    """Takes the clicks at `click_frames` out of sound at `rate` frames a second.

    `kinds` says which clicks sound alike (None: all may); clicks before `learn_until_frame` are the
    count-in, which is learned from and passes as it is.  `waves` gives clicks that were learned
    before, by kind.  The result does not depend on the sizes of the blocks that are fed.
    """

    def __init__(
        self,
        click_frames: Sequence[int],
        kinds: Sequence[str] | None,
        rate: int,
        *,
        learn_until_frame: int,
        waves: Waves | None = None,
    ) -> None:
        names = list(kinds) if kinds is not None else [ANY] * len(click_frames)
        if len(names) != len(click_frames):
            raise ValueError("as many kinds as clicks are needed")
        order = sorted(zip(click_frames, names, strict=True))
        self.rate = rate
        self.masked: list[Gap] = []
        self._before, self._after = span_frames([frame for frame, _ in order], rate)
        self._lessons_left = [click for click in order if click[0] < learn_until_frame]
        self._clicks = [click for click in order if click[0] >= learn_until_frame]
        self._lessons: dict[str, list[Floats]] = {}
        self._waves = dict(waves or {})
        self._learned = waves is not None
        self._standing = ClickState()
        self._overlays: list[_Overlay] = []
        self._raw: Samples = np.zeros(0, np.float32)
        self._raw_frame: int | None = None
        self._out_frame = 0
        self._loudness = PlayedLevel(rate, [frame for frame, _ in order], learn_until_frame)

    @property
    def heard(self) -> bool:
        """Whether the count-in was heard, so that there is something to take away."""
        return bool(self._waves)

    @property
    def delay_frames(self) -> int:
        """The longest that a sample is held back (0 where no click is heard)."""
        if not self._learned:
            return self._frames(EARLY_S) + self._after
        ends = [self._first(w) - self._fit_end(w) for ws in self._waves.values() for w in ws]
        return -min(ends, default=0)

    def feed(self, frame: int, samples: Samples) -> tuple[int, Samples]:
        """Take in samples (float32 (n,)) from `frame` on, which must follow those before.

        Returns the frame of the first cleaned sample and the cleaned samples that are ready.
        """
        if self._raw_frame is None:
            self._raw_frame = self._out_frame = frame
        if frame != self._end_frame:
            raise ValueError(f"frame {self._end_frame} was to come, not {frame}")
        self._raw = np.concatenate([self._raw, np.asarray(samples, np.float32)])
        self._study()
        while self._clicks and self._decide_frame(self._clicks[0]) <= self._end_frame:
            self._remove(*self._clicks.pop(0))
        return self._emit(self._ready_frame())

    def finish(self) -> tuple[int, Samples]:
        """What is still held back."""
        if self._raw_frame is None:
            return 0, np.zeros(0, np.float32)
        self._clicks.clear()
        return self._emit(self._end_frame)

    @property
    def _end_frame(self) -> int:
        return (self._raw_frame or 0) + len(self._raw)

    def _frames(self, seconds: float) -> int:
        return round(seconds * self.rate)

    def _part(self, from_frame: int, to_frame: int) -> Floats:
        """Raw samples as float64; zeros before the first one."""
        origin = self._raw_frame or 0
        missing = max(0, min(origin, to_frame) - from_frame)
        part = self._raw[max(0, from_frame - origin) : max(0, to_frame - origin)]
        return np.concatenate([np.zeros(missing), part.astype(np.float64)])

    def _study(self) -> None:
        """Keep the count-in clicks that are complete; learn from them when all are."""
        while self._lessons_left and self._lessons_left[0][0] + self._after <= self._end_frame:
            frame, kind = self._lessons_left.pop(0)
            lesson = self._part(frame - self._before, frame + self._after)
            self._lessons.setdefault(kind, []).append(lesson)
        if not self._learned and not self._lessons_left:
            self._learned = True
            self._waves = dict(waves_of(self._lessons, self.rate, self._before))
            self._lessons.clear()

    def _first(self, wave: ClickWave) -> int:
        """Where the overlay of a click begins, against the click's frame."""
        return wave.offset_frames - self._frames(MOVED_S)

    def _fit_span(self, wave: ClickWave) -> tuple[int, int]:
        """The part of the wave that is fitted."""
        end = min(wave.loud_frame + self._frames(FIT_S), len(wave.wave))
        return wave.loud_frame - self._frames(FIT_BEFORE_S), end

    def _fit_end(self, wave: ClickWave) -> int:
        return wave.offset_frames + self._fit_span(wave)[1]

    def _candidates(self, kind: str) -> tuple[ClickWave, ...]:
        return self._waves.get(kind, ())

    def _decide_frame(self, click: tuple[int, str]) -> int:
        """When enough of a click is there to fit it."""
        if not self._learned:
            return self._end_frame + 1
        frame, kind = click
        return frame + max((self._fit_end(w) for w in self._candidates(kind)), default=0)

    def _ready_frame(self) -> int:
        """Up to here nothing will change any more."""
        if not self._clicks:
            return self._end_frame
        frame, kind = self._clicks[0]
        if not self._learned:
            first = -self._frames(EARLY_S) - self._frames(MOVED_S)
        else:
            first = min((self._first(w) for w in self._candidates(kind)), default=0)
        return min(self._end_frame, frame + first)

    def _remove(self, frame: int, kind: str) -> None:
        """Fit one click and lay its opposite over it."""
        waves = self._candidates(kind)
        if not waves:
            self._mask_unknown(frame)
            return
        self._loudness.follow(self._clean, frame + min(self._first(w) for w in waves))
        wave, fitted = min(
            ((w, self._fit(frame, w)) for w in waves), key=lambda pair: pair[1].misfit
        )
        self._mask(frame, wave, fitted)
        if not fitted.quieter:
            return
        self._standing = fitted.standing
        pad = self._frames(MOVED_S)
        padded = np.concatenate([np.zeros(pad), wave.wave, np.zeros(pad)])
        moved = fitted.standing.gain * shifted(padded, fitted.standing.delay)
        self._overlays.append(_Overlay(frame + self._first(wave), moved.astype(np.float32)))

    def _fit(self, frame: int, wave: ClickWave) -> Fitted:
        low, high = self._fit_span(wave)
        start = frame + wave.offset_frames
        heard = self._clean(start + low, start + high)
        part = np.concatenate([np.zeros(max(0, -low)), wave.wave[max(0, low) : high]])
        reach = self._frames(REACH_S)
        fitted = fit_click(heard, part, self._standing.aged(), reach)
        if abs(fitted.standing.delay) < self._frames(MOVED_S) - 1:
            return fitted
        return Fitted(self._standing, quieter=False, misfit=fitted.misfit)

    def _clean(self, from_frame: int, to_frame: int) -> Floats:
        """Raw samples less the overlays laid so far."""
        part = self._part(from_frame, to_frame)
        for overlay in self._overlays:
            low = max(from_frame, overlay.frame)
            high = min(to_frame, overlay.frame + len(overlay.wave))
            if low < high:
                cut = overlay.wave[low - overlay.frame : high - overlay.frame]
                part[low - from_frame : high - from_frame] -= cut
        return part

    def _mask(self, frame: int, wave: ClickWave, fitted: Fitted) -> None:
        """The rule of `masked`, see the head of this module."""
        played_db = self._loudness.loudest_db
        if played_db < wave.noise_db + HEARD_DB:
            return
        left_db = wave.level_db + 20 * float(np.log10(fitted.standing.gain))
        left_db += wave.residue_db if fitted.quieter else 0.0
        if left_db > played_db - CLEAR_DB:
            start = frame + wave.offset_frames + wave.loud_frame
            self.masked.append(Gap(start, wave.loud_frames, "masked"))

    def _mask_unknown(self, frame: int) -> None:
        if self._waves:
            self.masked.append(Gap(frame, self._frames(FIT_S), "masked"))

    def _emit(self, to_frame: int) -> tuple[int, Samples]:
        frame = self._out_frame
        origin = self._raw_frame or 0
        out = self._raw[frame - origin : max(frame, to_frame) - origin].copy()
        for overlay in self._overlays:
            low, high = max(frame, overlay.frame), min(to_frame, overlay.frame + len(overlay.wave))
            if low < high:
                out[low - frame : high - frame] -= overlay.wave[
                    low - overlay.frame : high - overlay.frame
                ]
        self._out_frame = frame + len(out)
        self._forget()
        return frame, out

    def _forget(self) -> None:
        """Drop what no lesson, fit or measure of loudness will look at again."""
        self._loudness.follow(self._clean, self._out_frame)
        keep = self._out_frame - self._before - self._after - self._frames(2 * LEVEL_S)
        if self._lessons_left:
            keep = min(keep, self._lessons_left[0][0] - self._before)
        surplus = keep - (self._raw_frame or 0)
        if surplus > self.rate:
            self._raw, self._raw_frame = self._raw[surplus:], keep
            self._overlays = [o for o in self._overlays if o.frame + len(o.wave) > keep]


def remove_clicks(
    samples: Samples,
    click_frames: Sequence[int],
    rate: int,
    *,
    kinds: Sequence[str] | None = None,
    learn_until_frame: int | None = None,
) -> tuple[Samples, list[Gap]]:
    """A whole recording, float32 (n,), without its clicks; and what is masked.

    Without `learn_until_frame` the clicks are learned from those over which nothing else sounds,
    failing these from all of them.  Samples are the same object where no click is heard.
    """
    clicks = sorted(zip(click_frames, kinds or [ANY] * len(click_frames), strict=True))
    frames, names = [frame for frame, _ in clicks], [kind for _, kind in clicks]
    before, after = span_frames(frames, rate)
    if learn_until_frame is None:
        whole = [c for c in clicks if c[0] >= before and c[0] + after <= len(samples)]
        lessons = [(k, samples[f - before : f + after].astype(np.float64)) for f, k in whole]
        waves: Waves | None = waves_anywhere(lessons, rate, before)
    else:
        waves = None
    until = frames[0] if learn_until_frame is None and frames else learn_until_frame or 0
    remover = ClickRemover(frames, names, rate, learn_until_frame=until, waves=waves)
    _, cleaned = remover.feed(0, samples)
    _, rest = remover.finish()
    if not remover.heard:
        return samples, []
    return np.concatenate([cleaned, rest]), remover.masked
