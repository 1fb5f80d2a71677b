"""Ritardandi that stand in the score only as words: where they begin and end, and how far they go.

Where a change ends, and how far it goes without a number, is common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.core.score.choose import Choice, line_of
from coach.core.score.model import Meter, Signs
from coach.core.score.told import line_dict
from coach.core.tutti.drift import changes_of
from coach.core.tutti.gradual import Gradual, gradual_changes, tempos_with_words
from coach.core.tutti.making import excerpt_of
from tests.core.score.making import bar, head, score

F = Fraction
WHOLE = bar(head("C4", 0, 4))


def written(count, words, *, tempos=None, doubles=(), **more):
    """Whole notes in 4/4 at 100; `words` and `tempos` by bar, from 0."""
    tempos = {0: [(F(0), 100.0)]} if tempos is None else tempos
    told = [tuple(tempos.get(k, ())) for k in range(count)]
    made = score(*[WHOLE] * count, tempos=told, **more)
    frames = (
        replace(frame, tempo_words=tuple(words.get(k, ())), double_bar=k in doubles)
        for k, frame in enumerate(made.frames)
    )
    return replace(made, frames=tuple(frames))


def rit(at=0, text="rit."):
    return [(F(at), text)]


def spans(made):
    return [(c.start, c.full, c.end, c.before, c.after) for c in gradual_changes(made)]


@pytest.mark.parametrize(
    ("words", "end"),
    [
        ({1: rit(2), 3: rit(1, "a tempo")}, 13),
        ({1: rit(2), 3: rit(0, "")}, 12),
        ({1: rit(2), 3: rit(0, "Allegro")}, 12),
        ({1: rit(2), 2: rit(0, "molto dolce")}, 36),
        ({1: rit(2, "riten.")}, 12),
        ({1: rit(2)}, 36),
    ],
)
def test_where_a_ritardando_ends(words, end):
    (change,) = gradual_changes(written(12, words))
    assert (change.start, change.end) == (6, end)


def test_a_double_bar_a_repeat_and_the_end_of_the_piece_end_it():
    words = {1: rit()}
    assert spans(written(6, words, doubles=[2])) == [(4, 12, 12, 100, 70)]
    signs = [Signs()] * 3 + [Signs(plays=2)] + [Signs()] * 2
    assert spans(written(6, words, signs=signs)) == [(4, 16, 16, 100, 70)]
    signs = [Signs()] * 4 + [Signs(forward=True), Signs()]
    assert spans(written(6, words, signs=signs)) == [(4, 16, 16, 100, 70)]
    assert spans(written(6, words)) == [(4, 24, 24, 100, 70)]


def test_at_a_fermata_it_has_arrived_and_behind_it_the_tempo_is_back():
    made = written(4, {0: rit()})
    held = bar(head("C4", 0, 2), head("D4", 2, 2, marks=frozenset({"fermata"})))
    part = replace(made.parts[0], bars=(WHOLE, held, WHOLE, WHOLE))
    made = replace(made, parts=(part,))
    assert spans(made) == [(0, 6, 8, 100, 70)]
    warp = excerpt_of(made, Choice(), 0).ensemble.warp
    assert [warp.share_at(F(at)) for at in (6, 8)] == [F(7, 10), 1]
    assert warp.holds == ((F(6), F(2)),)
    short = replace(part, bars=(WHOLE, bar(replace(held.heads[1], length=F(1))), WHOLE, WHOLE))
    assert spans(replace(made, parts=(part, short))) == [(0, 6, 8, 100, 70)]


def test_a_number_at_its_end_is_what_it_goes_to_if_it_goes_that_way():
    slower = {0: [(F(0), 100.0)], 2: [(F(0), 60.0)]}
    assert spans(written(4, {1: rit()}, tempos=slower)) == [(4, 8, 8, 100, 60)]
    quicker = {0: [(F(0), 100.0)], 2: [(F(0), 160.0)]}
    made = written(4, {1: rit()}, tempos=quicker)
    assert spans(made) == [(4, 8, 8, 100, 70)]
    assert tempos_with_words(made)[2] == ((0, 160),)


@pytest.mark.parametrize(
    "numbers",
    [
        [(F(0), 80.0)],
        [(F(1), 92.0), (F(2), 84.0), (F(3), 76.0)],
    ],
)
def test_what_numbers_write_out_is_not_counted_twice(numbers):
    made = written(4, {1: rit()}, tempos={0: [(F(0), 100.0)], 1: numbers})
    assert spans(made) == []
    line = line_of(made, made.parts[0])
    assert excerpt_of(made, Choice(), 0).ensemble.warp.steps[1:] == tuple(
        (at, F(str(bpm)) / 100) for at, bpm in line.tempos[1:]
    )


def test_words_that_follow_each_other():
    deeper = {0: rit(0, "poco rit."), 1: rit(0, "molto rit."), 3: rit(0, "a tempo")}
    assert spans(written(5, deeper)) == [(0, 12, 12, 100, 50)]
    on = {0: rit(0, "stringendo"), 2: rit(), 4: rit(0, "a tempo")}
    assert spans(written(6, on)) == [(0, 8, 8, 100, 125), (8, 16, 16, 125, 70)]
    lines = {0: rit(0, "stringendo"), 2: [(F(0), ""), (F(0), "rit.")], 4: rit(0, "a tempo")}
    assert spans(written(6, lines)) == spans(written(6, on))
    lesser = {0: rit(0, "molto rit."), 1: [(F(0), ""), (F(0), "poco rit.")]}
    assert spans(written(2, lesser)) == [(0, 4, 4, 100, 50), (4, 8, 8, 50, 50)]
    new = {0: rit(), 2: [(F(0), "a tempo"), (F(0), "poco rit.")], 3: rit(0, "a tempo")}
    assert spans(written(5, new)) == [(0, 8, 8, 100, 70), (8, 12, 12, 100, 85)]


def test_the_curve_of_a_ritardando():
    """v = (1 + (w^3 - 1) x)^(1/3): Friberg and Sundberg 1999, from memory."""
    made = written(4, {0: rit(), 2: rit(0, "a tempo")})
    steps = [*tempos_with_words(made)[0], *((at + 4, v) for at, v in tempos_with_words(made)[1])]
    assert [at for at, _ in steps] == [F(k, 4) for k in range(32)]
    for at, bpm in steps:
        x = (float(at) + 0.125) / 8
        assert float(bpm) == pytest.approx(100 * (1 + (0.7**3 - 1) * x) ** (1 / 3), abs=0.001)


def test_an_excerpt_out_of_the_middle_is_as_the_whole():
    made = written(8, {1: rit(), 5: rit(0, "a tempo")})
    whole = excerpt_of(made, Choice(), 0).ensemble.warp
    middle = excerpt_of(made, Choice(bars="4-7"), 0).ensemble.warp
    assert middle.steps[0][1] < 1
    for beat in range(16):
        apart = whole.even(F(12 + beat)) - whole.even(F(12))
        assert middle.even(F(beat)) == apart


def test_a_repeat_brings_back_what_held_there():
    signs = [Signs(), Signs(plays=2), Signs()]
    made = written(3, {1: rit(2)}, signs=signs)
    warp = excerpt_of(made, Choice(), 0).ensemble.warp
    assert [warp.share_at(F(at)) for at in (5, 8, 13, 16)] == [1, 1, 1, 1]
    assert warp.share_at(F(7)) == warp.share_at(F(15)) < 1
    assert [c.gradual for c in changes_of(warp, F(4))] == [True, False, True, False]


def test_without_a_number_in_the_score_it_is_the_same():
    with_one = excerpt_of(written(4, {1: rit(), 3: rit(0, "a tempo")}), Choice(), 0)
    none = excerpt_of(written(4, {1: rit(), 3: rit(0, "a tempo")}, tempos={}), Choice(), 0)
    for beat in range(17):
        there = none.ensemble.warp.even(F(beat))
        assert float(there) == pytest.approx(float(with_one.ensemble.warp.even(F(beat))), abs=1e-3)


def test_strict_time_and_what_else_reads_the_score():
    plain, worded = written(6, {}), written(6, {1: rit(), 3: rit(0, "a tempo")})
    assert excerpt_of(worded, Choice(strict=True), 0) == excerpt_of(plain, Choice(), 0)
    assert excerpt_of(worded, Choice(), 0).ensemble.warp is not None
    lines = [line_dict(line_of(made, made.parts[0]), None) for made in (plain, worded)]
    assert lines[0] == lines[1]


TEXTS = ("rit.", "molto rit.", "poco accel.", "stringendo", "a tempo", "Allegro", "", "riten.")
places = st.fractions(0, F(23, 8), max_denominator=8)


@st.composite
def scores(draw):
    """Bars of 3/4 with any words, numbers, double bars, repeats and fermatas."""
    count = draw(st.integers(1, 8))

    def some(what, most):
        return [
            sorted(draw(st.dictionaries(places, what, max_size=most)).items()) for _ in range(count)
        ]

    fermata = {"marks": frozenset({"fermata"})}
    bars = [bar(head("C4", 0, 1), head("D4", 1, 2, **draw(st.sampled_from([{}, {}, fermata]))))
            for _ in range(count)]  # fmt: skip
    signs = [draw(st.sampled_from([Signs(), Signs(), Signs(plays=2)])) for _ in range(count)]
    made = score(*bars, meter=Meter((3,), 4), signs=signs, tempos=some(st.integers(20, 300), 1))
    words = some(st.sampled_from(TEXTS), 2)
    return replace(
        made,
        frames=tuple(
            replace(frame, tempo_words=tuple(said), double_bar=draw(st.booleans()))
            for frame, said in zip(made.frames, words, strict=True)
        ),
    )


@settings(max_examples=40)
@given(scores())
def test_changes_are_in_order_and_behind_each_the_tempo_is_back(made):
    steps = [
        (3 * number + at, bpm)
        for number, changes in enumerate(tempos_with_words(made))
        for at, bpm in changes
    ]
    numbers = [
        (3 * number + at, F(bpm))
        for number, frame in enumerate(made.frames)
        for at, bpm in frame.tempos
    ]
    first = numbers[0][1] if numbers else 120
    assert [at for at, _ in steps] == sorted({at for at, _ in steps})
    changes = gradual_changes(made)
    assert all(one.end <= other.start for one, other in pairwise(changes))
    for change in changes:
        assert change.start < change.full <= change.end
        _monotone(change, [bpm for at, bpm in steps if change.start <= at < change.end])
    for at in (F(k, 8) for k in range(24 * len(made.frames))):
        if not any(change.start <= at < change.end for change in changes):
            assert _held(steps, at, first) == _held(numbers, at, first)


def _monotone(change: Gradual, bpms):
    down = change.after < change.before
    assert bpms == sorted(bpms, reverse=down)
    low, high = sorted((change.before, change.after))
    assert all(low - F(1, 1000) <= bpm <= high for bpm in bpms)


def _held(tempos, at, first):
    return next((bpm for place, bpm in reversed(tempos) if place <= at), first)


@settings(max_examples=40)
@given(scores())
def test_time_goes_on_and_is_exact(made):
    excerpt = excerpt_of(made, Choice(), 0).ensemble
    warp = excerpt.warp
    if warp is not None:
        evens = [warp.even(F(k, 8)) for k in range(int(excerpt.length_beats * 8))]
        assert all(a < b for a, b in pairwise(evens))
        assert all(isinstance(even, Fraction) for even in evens)
    strict = excerpt_of(made, Choice(strict=True), 0).ensemble.warp
    if not gradual_changes(made):
        assert warp == strict
