"""Writing down: what is laid on a grid, shaken and sounded short comes back as it was."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.core.passage import Note, Passage
from coach.core.transcribe import GRIDS, Paper, TranscribedNote, choose_grid, lateness, transcribe

SHAKEN = st.floats(-0.2, 0.2)


@st.composite
def passages(draw, step=None):
    """(page, passage): notes and rests on a grid; a rest is no shorter than the note before it."""
    step = step or GRIDS[draw(st.sampled_from(list(GRIDS)))]
    at, notes = draw(st.integers(0, 5)) * step, []
    for _ in range(draw(st.integers(1, 20))):
        length = draw(st.integers(1, 9))
        pitch = draw(st.integers(34, 77))
        joins = bool(notes) and notes[-1].end_beats == at and notes[-1].pitch != pitch
        slurred = joins and draw(st.booleans())
        notes.append(Note(pitch, at, length * step, slurred))
        at += (length + draw(st.sampled_from([0, 0, length, length + 2]))) * step
    bars = int(at // 4) + 1
    return Paper(step, bars), Passage(tuple(notes))


def sounded(draw, page, passage, late, tuning):
    """The passage as a player would sound it: shaken by a fifth of a step, notes a bit short."""
    step = float(page.step_beats)
    return [
        TranscribedNote(
            float(n.start_beats) + step * (late + draw(SHAKEN)),
            float(n.end_beats) + step * (late - draw(st.floats(0, 0.25))),
            n.pitch + tuning + draw(st.floats(-0.1, 0.1)),
            n.slurred,
        )
        for n in passage.notes
    ]


@given(st.data(), st.floats(-0.2, 0.2), st.floats(-0.35, 0.35))
def test_a_passage_comes_back_through_a_player(data, late, tuning):
    page, passage = data.draw(passages())
    heard = sounded(data.draw, page, passage, late, tuning)
    written = transcribe(heard, page)
    assert written.passage == passage
    assert written.left_out == ()


@given(st.data())
def test_exact_playing_leaves_nothing_over(data):
    page, passage = data.draw(passages())
    heard = [
        TranscribedNote(float(n.start_beats), float(n.end_beats), n.pitch) for n in passage.notes
    ]
    written = transcribe(heard, page)
    assert written.spread_beats == pytest.approx(0, abs=1e-9)
    assert written.late_beats == pytest.approx(0, abs=1e-9)
    assert written.tuning_cents == pytest.approx(0, abs=1e-9)


@given(
    st.lists(st.tuples(st.floats(0, 16), st.floats(0.01, 2), st.floats(34, 77)), max_size=30),
    st.sampled_from(list(GRIDS)),
)
def test_whatever_is_heard_makes_a_passage_on_the_grid(played, grid):
    heard = [TranscribedNote(s, s + length, pitch) for s, length, pitch in sorted(played)]
    page = Paper(GRIDS[grid], 4)
    written = transcribe(heard, page)
    assert len(written.passage.notes) + len(written.left_out) == len(heard)
    assert all(n.start_beats % page.step_beats == 0 for n in written.passage.notes)
    assert written.passage.end_beats <= 16


def test_a_note_may_cross_the_bar():
    heard = [TranscribedNote(3.0, 4.9, 60), TranscribedNote(5.0, 5.9, 62)]
    notes = transcribe(heard, Paper(Fraction(1), 2)).passage.notes
    assert notes[0].start_beats == 3
    assert notes[0].length_beats == 2


def test_a_bounced_tongue_is_left_out():
    heard = [
        TranscribedNote(0, 0.4, 60),
        TranscribedNote(0.06, 0.4, 60),
        TranscribedNote(0.5, 0.9, 62),
        TranscribedNote(1, 1.4, 64),
    ]
    written = transcribe(heard, Paper(Fraction(1, 2), 1))
    assert [n.pitch for n in written.passage.notes] == [60, 62, 64]
    assert len(written.left_out) == 1


def test_what_has_no_pitch_or_no_place_is_left_out():
    heard = [
        TranscribedNote(-1.0, -0.5, 60),
        TranscribedNote(0, 0.9, None),
        TranscribedNote(1, 1.9, 62),
        TranscribedNote(9, 9.9, 64),
    ]
    written = transcribe(heard, Paper(Fraction(1), 1))
    assert [(n.pitch, n.start_beats) for n in written.passage.notes] == [(62, 1)]
    assert len(written.left_out) == 3


def test_short_playing_is_not_written_as_rests_but_silence_is():
    detached = [TranscribedNote(k, k + 0.65, 60 + k) for k in range(4)]
    assert all(
        n.length_beats == 1 for n in transcribe(detached, Paper(GRIDS["1/16"], 1)).passage.notes[:3]
    )
    clipped = [TranscribedNote(k, k + 0.45, 60 + k) for k in range(4)]
    lengths = [n.length_beats for n in transcribe(clipped, Paper(GRIDS["1/16"], 1)).passage.notes]
    assert lengths == [Fraction(1, 2)] * 4


def test_an_unknown_end_lasts_to_the_next_note():
    notes = transcribe(
        [TranscribedNote(0, None, 60), TranscribedNote(2, None, 62)], Paper(Fraction(1), 1)
    ).passage.notes
    assert [n.length_beats for n in notes] == [2, 1]


def test_nothing_heard_is_an_empty_passage():
    assert transcribe([], Paper(Fraction(1), 1)).passage.notes == ()
    assert lateness([]) == 0.0


@pytest.mark.parametrize("grid", ["1/4", "1/8", "1/8T", "1/16", "1/16T"])
def test_the_grid_is_found(grid):
    step = float(GRIDS[grid])
    shake = [0.01, -0.015, 0.0, 0.012, -0.01, 0.007, -0.004, 0.002]
    heard = [TranscribedNote(k * step + 0.02 + shake[k % 8], None, 60) for k in range(16)]
    assert choose_grid(heard) == grid
