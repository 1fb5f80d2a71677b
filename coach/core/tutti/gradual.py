"""Changes of tempo that stand in a score only as words, worked out over the printed bars.

A ritardando or accelerando begins at its word.  It ends where a dashed line behind the word does,
at a fermata, the next "a tempo" or new tempo, a change the other way, a double bar or repeat sign,
or after as many bars as such a word lasts at most; from there the tempo is that of the last mark
with a number.  A number that stands at its end, and goes its way, is what it goes to.  Where the
numbers themselves go down (or up) step by step at the word, the word is not counted again.

The curve of a ritardando is that of Friberg and Sundberg (Journal of the Acoustical Society of
America 105, 1999; from memory): v = (1 + (w^q - 1) x)^(1/q), over the way x in beats, to the share
w, with q = 3.  An accelerando goes straight up over the beats (common practice, no source).
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from coach.core.score.model import Head, Score
from coach.core.score.practise import USUAL_QUARTERS
from coach.core.score.tempowords import TempoWord, word_of
from coach.core.warp import ramp

# A sixteenth is finer than anybody conducts; long changes are no finer than the ear needs.
STEP_BEATS, MOST_STEPS = Fraction(1, 4), 32
# Two numbers this soon after a word are the change itself, written out.
WRITTEN_OUT_BEATS = Fraction(2)
SHARPNESS = 3  # q

Tempos = tuple[tuple[Fraction, Fraction], ...]


@dataclass(frozen=True, slots=True)
class Gradual:
    """From `before` to `after` quarter notes a minute, reached at the beat `full` and kept up to
    `end`; beats from the start of the first printed bar."""

    start: Fraction
    full: Fraction
    end: Fraction
    before: Fraction
    after: Fraction


def first_tempo(score: Score) -> Fraction:
    """The first number in the score, in quarter notes a minute, else what is usual."""
    told = (bpm for frame in score.frames for _, bpm in frame.tempos)
    return _exact(next(told, USUAL_QUARTERS))


def fermatas(score: Score, bar: int) -> Iterator[Head]:
    """The notes with a fermata in one bar, of any part."""
    for part in score.parts:
        for head in part.bars[bar].heads:
            if "fermata" in head.marks and head.length > 0:
                yield head


def tempos_with_words(score: Score) -> tuple[Tempos, ...]:
    """For each bar of the score the tempo changes in it, (onset, quarter notes a minute): those
    with numbers, and the steps of those that are only words."""
    page = _page(score)
    steps = dict(page.numbers)
    for change in gradual_changes(score):
        steps[change.end] = page.tempo_at(change.end)
        steps |= dict(_steps(change))
    made: list[list[tuple[Fraction, Fraction]]] = [[] for _ in score.frames]
    for at, bpm in sorted(steps.items()):
        if at < page.length:
            bar = page.bar_at(at)
            made[bar].append((at - page.starts[bar], bpm))
    return tuple(tuple(bar) for bar in made)


def gradual_changes(score: Score) -> tuple[Gradual, ...]:
    """The changes that are only words, in order; those of one way that follow each other are one
    and go as far as the furthest of them."""
    page = _page(score)
    made: list[Gradual] = []
    words = iter(page.words)
    following = next(words, None)
    while following is not None:
        at, word = following
        following = next(words, None)
        if word.reach == 1:
            continue
        end, reach = page.end_of(at, word), word.reach
        while following is not None and following[0] < end:
            again = following[1]
            if _same_way(word, again):
                end, reach = page.end_of(following[0], again), _further(reach, again.reach)
            following = next(words, None)
        if not page.written_out(at, reach < 1):
            made.append(page.change(at, end, reach, made[-1] if made else None))
    return tuple(made)


def _same_way(one: TempoWord, other: TempoWord) -> bool:
    return other.reach != 1 and (one.reach < 1) == (other.reach < 1)


def _further(one: Fraction, other: Fraction) -> Fraction:
    return min(one, other) if one < 1 else max(one, other)


def _steps(change: Gradual) -> Tempos:
    length = change.full - change.start
    step = max(STEP_BEATS, length / MOST_STEPS)
    if change.after < change.before:
        made = _slowing(change, step)
    else:
        made = ramp(change.start, change.full, change.before, change.after, step)
    return made if change.full == change.end else (*made, (change.full, change.after))


def _slowing(change: Gradual, step: Fraction) -> Tempos:
    """Straight down in the cubes of the tempo; the middle of each step lies on the curve."""
    cubes = ramp(change.start, change.full, change.before**SHARPNESS, change.after**SHARPNESS, step)
    return tuple((at, _cube_root(cube)) for at, cube in cubes)


def _cube_root(cube: Fraction) -> Fraction:
    """To a thousandth, without a rounding that differs from computer to computer."""
    wanted = cube.numerator * 10**9 // cube.denominator
    root = round(float(wanted) ** (1 / 3))
    while root**3 > wanted:
        root -= 1
    while (root + 1) ** 3 <= wanted:
        root += 1
    return Fraction(root, 1000)


def _exact(bpm: float) -> Fraction:
    return Fraction(str(round(bpm, 3)))


@dataclass(frozen=True, slots=True)
class _Page:
    """All that matters of the score, on one axis of beats: where bars begin, tempo marks with
    numbers, words, the places where a dashed line ends, those at which the tempo is new for other
    reasons, and fermatas from the start of the note to its end."""

    starts: tuple[Fraction, ...]
    length: Fraction
    first: Fraction
    numbers: Tempos
    words: tuple[tuple[Fraction, TempoWord], ...]
    line_ends: tuple[Fraction, ...]
    breaks: tuple[Fraction, ...]
    held: tuple[tuple[Fraction, Fraction], ...]

    def bar_at(self, at: Fraction) -> int:
        return bisect_right(self.starts, at) - 1

    def tempo_at(self, at: Fraction) -> Fraction:
        """What the last number says."""
        place = bisect_right(self.numbers, at, key=lambda number: number[0])
        return self.numbers[place - 1][1] if place else self.first

    def end_of(self, at: Fraction, word: TempoWord) -> Fraction:
        bar = self.bar_at(at) + word.most_bars
        furthest = self.starts[bar] if bar < len(self.starts) else self.length
        others = (there for there, other in self.words if not _same_way(word, other))
        ends = (self.line_ends, self.breaks, [there for there, _ in self.numbers], list(others))
        return min(_first_after(at, places, furthest) for places in ends)

    def written_out(self, at: Fraction, slower: bool) -> bool:
        """Whether a number at the word's own place, or two soon after it, go its way."""
        begin = bisect_left(self.numbers, at, key=lambda number: number[0])
        near = [n for n in self.numbers[begin : begin + 3] if n[0] <= at + WRITTEN_OUT_BEATS]
        before = self.numbers[begin - 1][1] if begin else self.first
        bpms = [before, *(bpm for _, bpm in near)]
        moves = [(b < a) == slower and a != b for a, b in pairwise(bpms)]
        return bool(near) and moves[0] and (near[0][0] == at or moves[1:2] == [True])

    def change(self, at: Fraction, end: Fraction, reach: Fraction, last: Gradual | None) -> Gradual:
        """From the tempo of the last number, or from what has just been reached where one change
        goes over into the other."""
        usual = self.tempo_at(at)
        after, number = usual * reach, self.tempo_at(end)
        if number != self.tempo_before(end) and (number < usual) == (reach < 1):
            after = number
        goes_over = last is not None and last.end == at and not self.new_at(at)
        before = last.after if last is not None and goes_over else usual
        if (after < before) != (reach < 1):
            after = before
        full = next((start for start, stop in self.held if stop == end and start > at), end)
        return Gradual(at, full, end, before, after)

    def tempo_before(self, at: Fraction) -> Fraction:
        place = bisect_left(self.numbers, at, key=lambda number: number[0])
        return self.numbers[place - 1][1] if place else self.first

    def new_at(self, at: Fraction) -> bool:
        back = any(there == at and word.reach == 1 for there, word in self.words)
        return back or at in self.breaks or any(there == at for there, _ in self.numbers)


def _first_after(at: Fraction, places: Sequence[Fraction], furthest: Fraction) -> Fraction:
    place = bisect_right(places, at)
    return min(places[place], furthest) if place < len(places) else furthest


def _page(score: Score) -> _Page:
    starts, length = [], Fraction(0)
    for frame in score.frames:
        starts.append(length)
        length += frame.length
    held = _held(score, starts)
    said = [
        (start + at, text)
        for start, frame in zip(starts, score.frames, strict=True)
        for at, text in frame.tempo_words
    ]
    return _Page(
        tuple(starts),
        length,
        first_tempo(score),
        tuple(
            (start + at, _exact(bpm))
            for start, frame in zip(starts, score.frames, strict=True)
            for at, bpm in frame.tempos
        ),
        tuple((at, word) for at, text in said if (word := word_of(text)) is not None),
        tuple(at for at, text in said if not text),
        tuple(sorted({*_new_sections(score, starts), *(end for _, end in held)})),
        held,
    )


def _new_sections(score: Score, starts: Sequence[Fraction]) -> Iterator[Fraction]:
    """Behind double bars and signs that lead elsewhere, and where a repeat begins."""
    for start, frame in zip(starts, score.frames, strict=True):
        signs = frame.signs
        if signs.forward:
            yield start
        if frame.double_bar or signs.plays or signs.fine or signs.jump:
            yield start + frame.length


def _held(score: Score, starts: Sequence[Fraction]) -> tuple[tuple[Fraction, Fraction], ...]:
    """Notes with a fermata, those that overlap in one."""
    every = sorted(
        (start + head.onset, start + head.onset + head.length)
        for bar, start in enumerate(starts)
        for head in fermatas(score, bar)
    )
    made: list[tuple[Fraction, Fraction]] = []
    for start, end in every:
        if made and start < made[-1][1]:
            made[-1] = (made[-1][0], max(made[-1][1], end))
        else:
            made.append((start, end))
    return tuple(made)
