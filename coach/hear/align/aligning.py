"""From a recording and the notes of a page to where its beats are played."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from coach.core.tutti.bars import Positions
from coach.core.warp import Warp
from coach.errors import CoachError
from coach.hear.align.bank import Features, Floats, Samples, features
from coach.hear.align.page import ScoreNote, page_features
from coach.hear.align.path import Places, costs, inside, library, through
from coach.hear.onethread import one_thread

# The rough pass: a row every so often, less often where the table would grow too large.
ROUGH_HOP_S = 0.1
MOST_CELLS = 6_000_000
ROUGH_ONSETS = 0.3
# Sound left over costs what the best there is costs (this quantile of all), so that other music
# around is left alone.  That a piece of the page is not in the recording is seldom: it costs nearly
# as much as nothing in common.
LEFT_QUANTILE, PAGE_LEFT = 0.02, 0.8
# A recording of so small a share of the page or less has some of its bars only: what is left over
# of the page costs no more than that of the sound then.
SOME_BARS = 0.45
# The fine pass: pieces of so many seconds, with so much before and after them.
FINE_HOP_S = 0.01
PIECE_S, AROUND_S = 10.0, 3.0
FINE_ONSETS = 1.0
OUTSIDE = 0.5
# The line before is about so near, pass by pass: a row so far off costs as much more as one that
# has nothing in common.
NEAR_S = (0.4, 0.1)
# The tempo hardly changes within so many seconds: places are evened out over them, and those that
# lie further off than ASTRAY_S are not counted.
EVEN_S, ASTRAY_S = 0.4, 0.05
# What attacks that are there cost (median of the benchmark: 0.9), and what attacks that are not
# (1.5 where all is a fifth off, 1.9 a tritone; another piece over the same chords 1.15).
FOUND, NOT_FOUND = 0.8, 1.5
SHORTEST_S = 1.0
# What is played so many times faster or slower than the page says over so long is not the piece.
FURTHEST, STEADY_S = 2.2, 3.0
# So many beats more than the rough pass found are looked for at its ends.
MORE_BEATS = 4.0
# The rough pass takes about this share of the time.
ROUGH_SHARE = 0.1
# Before the first attack and after the last it goes on as fast as over so many beats beside them.
END_BEATS = 6.0


@dataclass(frozen=True, slots=True)
class Alignment:
    """Where the beats asked for are played; `positions.sure` says how well each is heard, 0 for
    beats that the recording does not reach.  `from_beat` to `to_beat` are in the recording."""

    positions: Positions
    from_beat: Fraction
    to_beat: Fraction


def align(
    samples: Samples,
    rate: int,
    notes: Sequence[ScoreNote],
    bar_beats: Sequence[Fraction],
    *,
    bpm: float = 100.0,
    warp: Warp | None = None,
    told: Callable[[float], None] = lambda share: None,
) -> Alignment:
    """Lay the page along a recording (float32 (n,)): `notes` of all parts, `bar_beats` the bar
    lines and beats that are to be found, in order.

    `bpm` (quarter notes a minute) and `warp` say how fast it is likely to be played; half and twice
    as fast is found too.  `told` hears what share of the work is done.  CoachError where the two
    have nothing in common, or dtw-python is missing.
    """
    if not notes or len(bar_beats) < 2:
        what = "there are no notes to be found in the recording"
        raise CoachError(what, "", "choose other bars")
    library()
    told(0.0)
    with one_thread():
        rough = _rough(samples, rate, notes, _Nominal(bpm, warp))
        told(ROUGH_SHARE)
        found, cost = _fine(samples, rate, notes, rough, told)
    told(1.0)
    if np.median(cost) > NOT_FOUND:
        raise _nothing_found()
    return _told(found, cost, bar_beats, rate)


@dataclass(frozen=True, slots=True)
class _Nominal:
    """When a beat is played at the tempo of the page."""

    bpm: float
    warp: Warp | None

    def __call__(self, beat: float) -> float:
        even = beat if self.warp is None else float(self.warp.even(Fraction(beat)))
        return even * 60 / self.bpm


@dataclass(frozen=True, slots=True)
class _Line:
    """When a beat is played, by points and straight lines."""

    beats: Floats
    seconds: Floats

    def __call__(self, beat: float) -> float:
        return float(self.at(np.array([beat]))[0])

    def at(self, beats: Floats) -> Floats:
        """Seconds (n,) of beats (n,)."""
        between = np.interp(beats, self.beats, self.seconds)
        before = np.minimum(beats - self.beats[0], 0) * self._slope(self.beats[0])
        after = np.maximum(beats - self.beats[-1], 0) * self._slope(self.beats[-1])
        made: Floats = between + before + after
        return made

    def _slope(self, end: float) -> float:
        """Seconds a beat around one end."""
        near = np.abs(self.beats - end) <= END_BEATS
        near = near if near.sum() > 1 else np.ones(len(self.beats), bool)
        beats, seconds = self.beats[near], self.seconds[near]
        return float((seconds[-1] - seconds[0]) / (beats[-1] - beats[0]))


def _rough(samples: Samples, rate: int, notes: Sequence[ScoreNote], nominal: _Nominal) -> _Line:
    """The line of the rough pass over everything."""
    last = float(max(note.end_beats for note in notes))
    hop = max(ROUGH_HOP_S, (nominal(last) * len(samples) / rate / MOST_CELLS) ** 0.5)
    sound = features(samples, rate, hop)
    page = page_features(notes, nominal, int(nominal(last) / hop) + 1, hop)
    if sound.sounding[:, -1].all():
        raise _nothing_found()
    table = costs(page, sound, ROUGH_ONSETS)
    sound_left = float(np.quantile(table, LEFT_QUANTILE))
    page_left = sound_left if len(sound) <= SOME_BARS * len(page) else PAGE_LEFT
    rows, columns = inside(table, sound_left, page_left)
    if min(len(set(rows.tolist())), len(set(columns.tolist()))) * hop < SHORTEST_S:
        raise _nothing_found()
    beats = np.arange(0, last + 0.5, 0.5)
    at = np.array([nominal(beat) for beat in beats])
    kept = np.flatnonzero((at >= rows[0] * hop) & (at <= rows[-1] * hop))
    # A row that has begun is found in the next one: half a row late.
    found = _crossing(rows, columns, at[kept] / hop) * hop - hop / 2
    whole = _playable(at[kept], found)
    if whole.stop - whole.start < 2:
        raise _nothing_found()
    return _Line(beats[kept][whole], found[whole])


def _playable(at: Floats, found: Floats) -> slice:
    """From the first to the last place around which it goes on at a tempo that can be: the ends of
    a way are squeezed together or drawn out where the one has what the other has not."""
    good = []
    for k, second in enumerate(at):
        after = min(int(np.searchsorted(at, second + STEADY_S)), len(at) - 1)
        before = max(int(np.searchsorted(at, second - STEADY_S)), 0)
        ways = [(k, after)] if k < len(at) / 2 else [(before, k)]
        good += [k for a, b in ways if b > a and _near_one((found[b] - found[a]) / (at[b] - at[a]))]
    return slice(good[0], good[-1] + 1) if good else slice(0)


def _near_one(share: float) -> bool:
    return 1 / FURTHEST <= share <= FURTHEST


def _nothing_found() -> CoachError:
    said = "this recording and the score have nothing in common"
    return CoachError(said, "", "check both, and which bars are asked for")


def _crossing(rows: Places, columns: Places, at: Floats) -> Floats:
    """The column (with fractions) in which the way crosses each row of `at`."""
    each, first = np.unique(rows, return_index=True)
    mean = np.add.reduceat(columns.astype(float), first) / np.diff([*first, len(rows)])
    # At its ends a way may lie along what the other side does not have.
    mean[0], mean[-1] = columns[first[1] - 1] if len(each) > 1 else mean[0], columns[first[-1]]
    return np.interp(at, each, mean)


def _fine(
    samples: Samples,
    rate: int,
    notes: Sequence[ScoreNote],
    line: _Line,
    told: Callable[[float], None],
) -> tuple[_Line, Floats]:
    """The line of the fine passes through the attacks that the recording reaches, and the cost of
    each."""
    sound = features(samples, rate, FINE_HOP_S)
    beats = np.array(sorted({float(note.start_beats) for note in notes}))
    beats = beats[np.abs(beats - np.clip(beats, line.beats[0], line.beats[-1])) <= MORE_BEATS]
    for number, near_s in enumerate(NEAR_S):
        at = line.at(beats)
        reached = (at >= 0) & (at <= (len(sound) - 1) * FINE_HOP_S)
        beats, at = beats[reached], at[reached]
        if len(beats) < 2:
            raise _nothing_found()
        page = page_features(notes, line, len(sound), FINE_HOP_S)
        found = []
        starts = np.arange(at[0], at[-1] + 1e-6, PIECE_S)
        for k, start in enumerate(starts):
            within = at[(at >= start) & (at < start + PIECE_S)]
            found.append(_piece(page, sound, start, within, near_s))
            done = (number + (k + 1) / len(starts)) / len(NEAR_S)
            told(ROUGH_SHARE + (1 - ROUGH_SHARE) * done)
        seconds, cost = (np.concatenate(part) for part in zip(*found, strict=True))
        line = _Line(beats, _evened(beats, seconds))
    return line, cost


def _piece(
    page: Features, sound: Features, start: float, at: Floats, near_s: float
) -> tuple[Floats, Floats]:
    """Seconds and cost of the attacks that are expected `at` seconds."""
    if not len(at):
        return at, at
    low = max(0, round((start - AROUND_S) / FINE_HOP_S))
    high = min(len(sound), round((start + PIECE_S + AROUND_S) / FINE_HOP_S))
    table = costs(page.part(low, high), sound.part(low, high), FINE_ONSETS)
    # Before the first note and after the last there may be anything.
    notes = np.flatnonzero(page.sounding[:, -1] == 0)
    table[: max(0, notes[0] - low)] = table[max(0, notes[-1] + 1 - low) :] = OUTSIDE
    place = np.arange(high - low) * FINE_HOP_S
    rows, columns = through(table + ((place[:, None] - place[None, :]) / near_s) ** 2)
    wanted = at / FINE_HOP_S - low
    crossed = _crossing(rows, columns, wanted)
    cost = table[np.rint(wanted).astype(int), np.rint(crossed).astype(int)]
    return (crossed + low) * FINE_HOP_S, cost


def _evened(beats: Floats, seconds: Floats) -> Floats:
    """Each place on a straight line through those around it, weighed by how near they are; those
    far off the first line don't count for the second."""
    made = np.empty(len(beats))
    for k, middle in enumerate(seconds):
        near = np.flatnonzero(np.abs(seconds - middle) <= 4 * EVEN_S)
        near = near if len(near) > 2 else np.arange(max(0, k - 1), min(len(beats), k + 2))
        made[k] = _smooth(beats[near] - beats[k], seconds[near], seconds[near] - middle)
    return np.maximum.accumulate(made + np.arange(len(made)) * 1e-6)


def _smooth(x: Floats, y: Floats, away: Floats) -> float:
    weight = np.exp(-0.5 * (away / EVEN_S) ** 2)
    for _ in range(3):
        level, slope = _line_through(x, y, weight)
        off = (y - level - slope * x) / ASTRAY_S
        weight = np.exp(-0.5 * (away / EVEN_S) ** 2) / (1 + off**2)
    return _line_through(x, y, weight)[0]


def _line_through(x: Floats, y: Floats, weight: Floats) -> tuple[float, float]:
    """Its height at 0 and its slope."""
    mean_x, mean_y = np.average(x, weights=weight), np.average(y, weights=weight)
    spread = float(np.sum(weight * (x - mean_x) ** 2))
    slope = float(np.sum(weight * (x - mean_x) * (y - mean_y))) / spread if spread > 1e-12 else 0.0
    return float(mean_y - mean_x * slope), slope


def _told(found: _Line, cost: Floats, bar_beats: Sequence[Fraction], rate: int) -> Alignment:
    wanted = np.array([float(beat) for beat in bar_beats])
    frames = np.rint(found.at(wanted) * rate).astype(int)
    return Alignment(
        Positions(rate, tuple(bar_beats), tuple(frames.tolist()), _sure(found, cost, wanted)),
        Fraction(float(found.beats[0])).limit_denominator(960),
        Fraction(float(found.beats[-1])).limit_denominator(960),
    )


def _sure(found: _Line, cost: Floats, wanted: Floats) -> tuple[float, ...]:
    """For each place, by the attacks up to the next one: 1 where they cost what good ones do, 0
    where they are not in the sound; where there are none the bar before tells."""
    ends = np.append(wanted[1:], np.inf)
    sure: list[float] = []
    for start, end in zip(wanted, ends, strict=True):
        attacks = cost[(found.beats >= start) & (found.beats < end)]
        if end <= found.beats[0] or start > found.beats[-1] + 1:
            sure.append(0.0)
        elif len(attacks):
            share = (NOT_FOUND - float(attacks.mean())) / (NOT_FOUND - FOUND)
            sure.append(round(min(max(share, 0.0), 1.0), 3))
        else:
            sure.append(sure[-1] if sure else 0.0)
    return tuple(sure)
