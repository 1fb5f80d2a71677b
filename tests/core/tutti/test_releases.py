"""Where notes stop, against the page and against the voices that stop with them."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.core.passage import Note
from coach.core.tutti.cutoffs import cutoffs
from coach.core.tutti.fit import NO_RELEASES, fit_of
from coach.core.tutti.words import RELEASE_MS, fit_sentences
from coach.core.warp import Warp
from tests.core.tutti.simulated import RATE, ensemble_of, plan_of, take, voice

HELD = Warp(((Fraction(0), Fraction(1)),), ((Fraction(9), Fraction(2)),))


def notes(*lengths: tuple[int, int]) -> list[Note]:
    """(start, length) in quarters."""
    return [
        Note(60 + k, Fraction(start), Fraction(length)) for k, (start, length) in enumerate(lengths)
    ]


# A half note before a rest of one, a quarter before the fermata's half note, the end.
MINE = notes((0, 1), (1, 2), (4, 2), (6, 2), (8, 2), (10, 2))
WITH_ME = notes((0, 3), (4, 4), (8, 2), (10, 2))
ON = notes((0, 4), (4, 8))
PLAN = plan_of(MINE, warp=HELD)
ENSEMBLE = ensemble_of(PLAN, voice("with me", WITH_ME), voice("on", ON))


def ends(plan=PLAN, off_ms=lambda k: 0.0):
    return {
        d.index: d.frame + d.length_frames + round(off_ms(d.index) * RATE / 1000) for d in plan.dues
    }


def test_ends_before_a_rest_a_fermata_s_note_and_the_end():
    found = [(c.index, c.bar, c.beats, c.before) for c in cutoffs(PLAN)]
    assert found == [(1, 1, 3, "rest"), (4, 3, 10, "fermata"), (5, 3, 12, "end")]


def test_short_notes_are_left_out_as_dots_are_not_known():
    short = [Note(60, Fraction(0), Fraction(1, 2)), Note(62, Fraction(2), Fraction(1))]
    assert [c.index for c in cutoffs(plan_of(short))] == [1]


def test_a_cut_off_is_held_against_the_voices_that_stop_there():
    fit = fit_of(take(PLAN), PLAN, ENSEMBLE, releases=ends(off_ms=lambda k: 30.0 * k))
    found = [(r.index, r.voices, r.late_ms, r.against_ms) for r in fit.releases]
    assert found == [(1, (1,), 30, 30), (4, (), 120, None), (5, (1, 2), 150, 150)]
    assert fit.unmeasured == ""


def test_the_end_of_a_voice_that_somebody_played_is_not_known():
    fit = fit_of(take(PLAN), PLAN, ENSEMBLE, {1: [96_000]}, ends())
    assert [r.against_ms for r in fit.releases] == [None, None, 0]
    alone = fit_of(take(PLAN), PLAN, ENSEMBLE, {1: [96_000], 2: [96_000]}, ends())
    assert alone.releases[-1].against_ms is None


@settings(max_examples=20)
@given(st.integers(-90, 90))
def test_a_shift_of_the_whole_take_is_taken_off(shift_ms):
    fit = fit_of(
        take(PLAN, lambda k: shift_ms), PLAN, ENSEMBLE, releases=ends(off_ms=lambda k: shift_ms)
    )
    assert [r.late_ms for r in fit.releases] == pytest.approx([0, 0, 0])


def test_without_ends_it_says_that_they_were_not_measured():
    fit = fit_of(take(PLAN), PLAN, ENSEMBLE)
    assert (fit.releases, fit.unmeasured) == ((), NO_RELEASES)
    assert fit_of(take(PLAN), PLAN, ENSEMBLE, releases={}).unmeasured == ""


def test_an_end_of_a_note_that_was_not_heard_tells_nothing():
    fit = fit_of(take(PLAN, missed=[1]), PLAN, ENSEMBLE, releases=ends())
    assert [r.index for r in fit.releases] == [4, 5]


@pytest.mark.parametrize(
    ("index", "late_ms", "do", "found"),
    [
        (1, RELEASE_MS + 1, "Stop with the others in bar 1.", "ends 201 ms after the others stop."),
        (
            1,
            -RELEASE_MS - 1,
            "Hold the note before the rest in bar 1 to the cut-off.",
            "The note before the rest in bar 1 ends 201 ms before the others stop.",
        ),
        (5, -300, "Hold the last note of bar 3 to the cut-off.", "ends 300 ms before the others"),
        (4, 400, "Stop where it is written in bar 3.", "ends 400 ms after its written end."),
    ],
)
def test_what_is_said_of_a_release(index, late_ms, do, found):
    given_ends = ends(off_ms=lambda k: late_ms if k == index else 0)
    said = fit_sentences(fit_of(take(PLAN), PLAN, ENSEMBLE, releases=given_ends))
    assert said[0] == do
    assert any(found in sentence for sentence in said)


@pytest.mark.parametrize(
    ("index", "late_ms"), [(1, RELEASE_MS - 1), (1, 1 - RELEASE_MS), (4, -400)]
)
def test_what_is_not_said(index, late_ms):
    """Within what can be measured; a breath after the fermata."""
    given_ends = ends(off_ms=lambda k: late_ms if k == index else 0)
    fit = fit_of(take(PLAN), PLAN, ENSEMBLE, releases=given_ends)
    assert fit_sentences(fit)[0] == "It fits: go on."


def test_a_quarter_may_be_meant_short():
    plan = plan_of(notes((0, 1), (2, 1)))
    ensemble = ensemble_of(plan)
    short = fit_of(take(plan), plan, ensemble, releases=ends(plan, lambda k: -250))
    assert fit_sentences(short)[0] == "It fits: go on."
    long = fit_of(take(plan), plan, ensemble, releases=ends(plan, lambda k: 250))
    assert fit_sentences(long)[0] == "Stop where it is written in bar 1."
