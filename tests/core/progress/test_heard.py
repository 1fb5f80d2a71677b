"""Which notes are the trouble: mistakes planted in takes that are really judged."""

from __future__ import annotations

from random import Random

import pytest

from coach.core.progress.heard import MOST_TAKES, heard_of, heard_words, note_words
from tests.core.findings_making import FAULTS, Player, judged_takes, line

FAULTY = 5


def takes(fault="late", chance=0.8, count=8, seed=1, passage=None):
    player = Player(
        share=0.0, planted=lambda k: chance if k == FAULTY else 0.0, planted_fault=fault
    )
    return judged_takes(player, count, Random(seed), passage)


@pytest.mark.parametrize("fault", FAULTS)
def test_the_note_that_goes_wrong_is_found(fault):
    heard = heard_of(takes(fault))
    worst = heard.troubles[0]
    assert (worst.index, worst.worst) == (FAULTY, fault)
    assert worst.fault_count >= 4
    assert note_words(worst).startswith(f"Note {FAULTY + 1} (")
    assert " of 8 takes" in heard_words(heard)


def test_how_late_it_is_as_a_rule():
    heard = heard_of(takes("late", 1.0))
    note = heard.notes[FAULTY]
    assert note.low_ms <= note.median_ms <= note.high_ms
    assert note.median_ms > 15
    assert f"as a rule by {note.median_ms:.0f} ms" in heard_words(heard)
    others = [one for one in heard.notes if one.index != FAULTY]
    assert all(abs(one.median_ms) < 15 for one in others)


def test_a_clean_player_has_no_trouble():
    heard = heard_of(takes(chance=0.0))
    assert heard.troubles == ()
    assert heard_words(heard) == "None: over the last 8 takes no note goes wrong again and again."


def test_one_take_tells_little():
    words = heard_words(heard_of(takes(chance=1.0, count=1)))
    assert words == "One take does not tell yet; in it, one note went wrong."


def test_the_passage_played_most_and_its_last_takes():
    other = line().transposed(2)
    heard = heard_of([*takes(count=MOST_TAKES + 4), *takes(count=3, passage=other)])
    assert heard.exercise.passage == line()
    assert heard.takes == MOST_TAKES
    assert heard_of([*takes(count=3), *takes(count=3, passage=other)]).exercise.passage == other
    assert heard_of([]) is None


def test_bars_and_written_names():
    heard = heard_of(takes())
    assert [note.bar for note in heard.notes] == [1] * 16
    # Sounding F4 on the horn in F is written C5.
    assert heard.notes[0].name == "C5"
