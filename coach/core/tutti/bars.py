"""Where the bars of a score lie in a recording, found in the sound or tapped; and the tempo that
makes clicks and dues follow it.

Taps go astray: each place is read off a parabola through the taps around it (a tempo that changes
bends a straight line by more than taps are off), fitted again and again with less weight for taps
that lie far from it.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from statistics import median

from coach.core.warp import Warp
from coach.errors import CoachError

# Faster or slower than this nobody plays: the file, or the taps, are wrong.
SLOWEST_BPM, FASTEST_BPM = 5, 1000
FIND_AGAIN = "find the bars again, or tap them"
# The parabola runs through so many taps before and after, and the tap itself.
TAPS_AROUND = 4
ROUNDS = 6
FEWEST_TAPS = 4
MOST_MISSED = 4
# So far off a tap counts nearly nothing; good tappers spread by some 10 to 30 ms (common practice,
# no source).
ASTRAY_S = 0.09


@dataclass(frozen=True, slots=True)
class Positions:
    """`frames[k]` of the recording is beat `beats[k]` of the page (quarter notes from the start of
    the excerpt): bar lines, and beats between them where they are known.

    `rate` in frames a second; `sure[k]`, 0 to 1, how well the place is heard (1 for taps).
    CoachError where they don't go on from one to the next at a tempo that can be played.
    """

    rate: int
    beats: tuple[Fraction, ...]
    frames: tuple[int, ...]
    sure: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        if not self.sure:
            object.__setattr__(self, "sure", (1.0,) * len(self.beats))
        if self.rate <= 0 or not len(self.beats) == len(self.frames) == len(self.sure):
            what = "every place in a recording needs its beat, and a rate above 0"
            raise CoachError(what, "", FIND_AGAIN)
        if len(self.beats) < 2:
            raise CoachError("two places in a recording are needed at least", "", FIND_AGAIN)
        for (beat, frame), (later, after) in pairwise(zip(self.beats, self.frames, strict=True)):
            self._check(beat, frame, later, after)

    def _check(self, beat: Fraction, frame: int, later: Fraction, after: int) -> None:
        where = f"beat {float(later):g}"
        if later <= beat or after <= frame:
            raise CoachError("beats and frames must go on from place to place", where, FIND_AGAIN)
        bpm = (later - beat) * 60 * self.rate / (after - frame)
        if not SLOWEST_BPM <= bpm <= FASTEST_BPM:
            said = f"this would be {float(bpm):.4g} quarter notes a minute"
            raise CoachError(said, where, f"{SLOWEST_BPM} to {FASTEST_BPM} can be")

    def frame_at(self, beat: Fraction) -> Fraction:
        """Where `beat` lies, exactly; outside the places their first or last tempo goes on."""
        k = min(max(bisect_right(self.beats, beat) - 1, 0), len(self.beats) - 2)
        beats, frames = self.beats[k + 1] - self.beats[k], self.frames[k + 1] - self.frames[k]
        return self.frames[k] + (beat - self.beats[k]) * frames / beats

    def at_rate(self, rate: int) -> Positions:
        """The same places in the recording brought to another rate."""
        moved = tuple(round(Fraction(frame * rate, self.rate)) for frame in self.frames)
        return Positions(rate, self.beats, moved, self.sure)

    def between(self, start: Fraction, end: Fraction) -> Positions:
        """The places of one excerpt, counted from its `start`; both ends are among them."""
        inside = [k for k, beat in enumerate(self.beats) if start < beat < end]
        beats = (start, *(self.beats[k] for k in inside), end)
        frames = tuple(round(self.frame_at(beat)) for beat in beats)
        sure = tuple(self._sure_at(beat) for beat in beats)
        return Positions(self.rate, tuple(beat - start for beat in beats), frames, sure)

    def _sure_at(self, beat: Fraction) -> float:
        return self.sure[min(max(bisect_right(self.beats, beat) - 1, 0), len(self.sure) - 1)]

    @property
    def usual_bpm(self) -> float:
        """Quarter notes a minute over all of it, as exercises count them (to a thousandth)."""
        length = Fraction(self.frames[-1] - self.frames[0], self.rate)
        return round(float((self.beats[-1] - self.beats[0]) * 60 / length), 3)


def warp_from(positions: Positions, tempo_bpm: float, pulse_beats: Fraction = Fraction(1)) -> Warp:
    """The tempo of the recording as shares of `tempo_bpm` clicks a minute, a click `pulse_beats`
    quarter notes long.

    Beat 0 is where the recording has it; from there every place lies where it is in the recording,
    to the frame.
    """
    base = Fraction(str(round(tempo_bpm, 3))) * pulse_beats / 60 / positions.rate
    steps: list[tuple[Fraction, Fraction]] = []
    for place, after in pairwise(zip(positions.beats, positions.frames, strict=True)):
        share = (after[0] - place[0]) / ((after[1] - place[1]) * base)
        if after[0] > 0 and (not steps or steps[-1][1] != share):
            steps.append((place[0] if steps else Fraction(0), share))
    if not steps:
        raise CoachError("the recording ends before the excerpt begins", "", "choose other bars")
    return Warp(tuple(steps))


def tapped(frames: Sequence[int], beats: Sequence[Fraction], rate: int) -> Positions:
    """Places from taps at `frames` (in order) on `beats`, the first tap on the first of them.

    Taps may be missing (four in a row at most) or double.  CoachError for too few taps, or taps
    that end more than two beats of `beats` before the end.
    """
    if len(frames) < FEWEST_TAPS or len(beats) < FEWEST_TAPS:
        raise CoachError(f"{len(frames)} taps are too few", "", f"tap {FEWEST_TAPS} times at least")
    taps = list(_counted(frames, beats))
    for _ in range(2):
        # What came after a gap tells as much of it as what came before.
        taps = list(_counted([frame for _, frame in taps], beats, _paces(taps)))
    if (last := beats.index(taps[-1][0])) < len(beats) - 3:
        said = f"the taps end at beat {last + 1} of {len(beats)}"
        raise CoachError(said, "", "tap on to the last beat")
    places = [_through(taps, beat, ASTRAY_S * rate) for beat in beats]
    return Positions(rate, tuple(beats), _going_on(places))


def _counted(
    frames: Sequence[int], beats: Sequence[Fraction], paces: Sequence[float] = ()
) -> Iterator[tuple[Fraction, int]]:
    """(beat, frame) of each tap: of the beats that may come next, the one that is due at the pace
    (frames a quarter note) given for each gap, or at that of the taps before."""
    lately = [_first_pace(frames, beats)] * 3
    at, frame = 0, frames[0]
    yield beats[0], frame
    for number, later in enumerate(frames[1:]):
        gap = (later - frame) / (paces[number] if paces else median(lately[-5:]))
        options = range(at, min(at + 2 + MOST_MISSED, len(beats)))
        best = min(options, key=lambda k: abs(float(beats[k] - beats[at]) - gap))
        if best > at:
            lately.append((later - frame) / float(beats[best] - beats[at]))
            at, frame = best, later
            yield beats[at], frame


def _paces(taps: Sequence[tuple[Fraction, int]]) -> list[float]:
    """The pace around each gap between taps, that gap itself left out."""
    each = [
        (after - frame) / float(later - beat) for (beat, frame), (later, after) in pairwise(taps)
    ]
    return [median(each[max(0, k - 4) : k] + each[k + 1 : k + 5]) for k in range(len(each))]


def _first_pace(frames: Sequence[int], beats: Sequence[Fraction]) -> float:
    """Frames a quarter note: the median over the first taps and the first beats."""
    gaps = [after - before for before, after in pairwise(frames[:9])]
    return max(1.0, median(gaps) / float(median(b - a for a, b in pairwise(beats[:9]))))


def _through(taps: Sequence[tuple[Fraction, int]], beat: Fraction, astray: float) -> float:
    """Where the parabola through the taps around `beat` has it, the less a tap counts the further
    it lies from it (Cauchy's weights)."""
    middle = bisect_right([place for place, _ in taps], beat)
    low = max(0, min(middle - 1 - TAPS_AROUND, len(taps) - 2 * TAPS_AROUND - 1))
    near = taps[low : low + 2 * TAPS_AROUND + 1]
    x = [float(place - beat) for place, _ in near]
    y = [float(frame - near[0][1]) for _, frame in near]
    weights = [1.0] * len(near)
    for _ in range(ROUNDS):
        c = _parabola(x, y, weights)
        off = [v - c[0] - c[1] * u - c[2] * u * u for u, v in zip(x, y, strict=True)]
        weights = [1 / (1 + (3 * one / astray) ** 2) ** 2 for one in off]
    return near[0][1] + _parabola(x, y, weights)[0]


def _parabola(
    x: Sequence[float], y: Sequence[float], weights: Sequence[float]
) -> tuple[float, float, float]:
    """Least squares: (height at 0, slope, bend), by Cramer's rule."""
    m = [sum(w * u**k for u, w in zip(x, weights, strict=True)) for k in range(5)]
    n = [sum(w * v * u**k for u, v, w in zip(x, y, weights, strict=True)) for k in range(3)]
    columns = [(m[0], m[1], m[2]), (m[1], m[2], m[3]), (m[2], m[3], m[4])]
    whole = _determinant(*columns)
    made = [_determinant(*columns[:k], (n[0], n[1], n[2]), *columns[k + 1 :]) for k in range(3)]
    return made[0] / whole, made[1] / whole, made[2] / whole


def _determinant(*columns: tuple[float, float, float]) -> float:
    a, b, c = columns
    crossed = (b[1] * c[2] - b[2] * c[1], b[2] * c[0] - b[0] * c[2], b[0] * c[1] - b[1] * c[0])
    return sum(one * other for one, other in zip(a, crossed, strict=True))


def _going_on(places: Sequence[float]) -> tuple[int, ...]:
    """Rounded, each later than the one before."""
    made: list[int] = []
    for place in places:
        made.append(max(round(place), made[-1] + 1) if made else round(place))
    return tuple(made)
