"""A stored take judged again gives its live report, note for note."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from random import Random

import pytest

from coach.book.practice import PracticeBook
from coach.core.exercise import Drill
from coach.core.passage import Passage, in_a_row
from coach.core.rejudge import judged_again, judged_in_order
from coach.core.rules import Rules
from coach.core.take import Evidence
from coach.session import Session, Setup
from tests.making import scale
from tests.test_session import FakeControls, FakeEar, FakePort, FakeScreen

DRILL = Drill("invented", "Invented", "", (Passage(in_a_row(scale(), Fraction(1, 2))),), 60, 90)


class Book:
    """A real book that also remembers the reports."""

    def __init__(self, path):
        self.kept, self.live = PracticeBook(path), []

    def append(self, take, report, drill):
        self.kept.append(take, report, drill)
        self.live.append(report)


class FollowingEar(FakeEar):
    """Says which note each attack is, and measures it better a chunk later."""

    def __init__(self, plan, fault):
        super().__init__(plan, fault)
        self._starts = [due.frame for due in plan.dues]
        self._later, self._told = (), 0

    def feed(self, chunk):
        heard = super().feed(chunk)
        attacks = tuple(replace(a, due=self._due(a)) for a in heard.attacks)
        refined, self._later = self._later, tuple(replace(a, level_db=-26.0) for a in attacks)
        self._told = max([self._told, *(a.due + 1 for a in attacks)])
        done = len(self._starts) if chunk.frame > self._starts[-1] + 9600 else self._told
        return Evidence(attacks, heard.gaps, chunk.end_frame, resolved=done, refined=refined)

    def finish(self):
        return Evidence(refined=self._later, resolved=len(self._starts))

    def _due(self, attack):
        return min(range(len(self._starts)), key=lambda k: abs(self._starts[k] - attack.frame))


def played(seed, late_frames):
    """A fault for the ears of test_session: notes late as a whole, uneven, some missing or wrong,
    a stray one before the playing starts."""
    rng = Random(seed)

    def fault(attack, index):
        chance = rng.random()
        if chance < 0.1:
            return None
        pitch = attack.pitch + (2 if chance > 0.9 else 0)
        return replace(
            attack, frame=attack.frame + late_frames + rng.randint(-900, 900), pitch=pitch
        )

    return fault


def live(tmp_path, ear, faults, takes):
    book = Book(tmp_path / "book.sqlite")
    left = list(faults)
    setup = Setup(DRILL, Rules(), -7, takes)
    session = Session(
        setup,
        FakePort(),
        lambda plan: ear(plan, left.pop(0)),
        FakeScreen(),
        FakeControls(),
        book,
        lambda event: None,
    )
    session.run()
    return book


@pytest.mark.parametrize("ear", [FakeEar, FollowingEar])
@pytest.mark.parametrize("seed", range(6))
def test_a_stored_session_judged_again_is_the_live_one(tmp_path, ear, seed):
    faults = [played(10 * seed + k, late_frames=1500 * (k + 1)) for k in range(3)]
    book = live(tmp_path, ear, faults, 3)
    kept = book.kept.latest(9)
    assert len(kept) == len(book.live) == 3
    assert judged_in_order([(one.take, Rules()) for one in kept]) == book.live


def test_the_offset_of_the_take_before_is_carried_over(tmp_path):
    """In a second take 55 ms late, an ear that does not follow loses the first notes without it."""
    book = live(tmp_path, FakeEar, [played(k, late_frames=2600) for k in range(2)], 2)
    second = book.kept.latest(1)[0].take
    assert second.number == 2
    prior = book.live[0].offset_ms * second.plan.rate / 1000
    assert judged_again(second, Rules(), prior_offset_frames=prior) == book.live[1]
    assert judged_again(second, Rules()) != book.live[1]


def test_later_rules_judge_otherwise(tmp_path):
    book = live(tmp_path, FakeEar, [played(1, late_frames=0)], 1)
    take = book.kept.latest(1)[0].take
    strict = judged_again(take, Rules(tolerance_ms=3.0, tolerance_share=0.02))
    assert strict.accuracy < book.live[0].accuracy


def test_the_latest_takes_of_the_drill_played_last(tmp_path):
    book = live(tmp_path, FakeEar, [played(k, late_frames=0) for k in range(3)], 3)
    other = replace(DRILL, name="other", instrument="trumpet", rules="strict")
    book.kept.append(book.kept.latest(1)[0].take, book.live[0], other)
    assert [one.take.number for one in book.kept.latest(2, "invented")] == [2, 3]
    assert [(k.drill, k.instrument, k.rules) for k in book.kept.latest(5)] == [
        ("other", "trumpet", "strict")
    ]
    assert book.kept.latest(5, "unknown") == []
