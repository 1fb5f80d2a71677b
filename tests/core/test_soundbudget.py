"""Which sounds go when there are too many."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from coach.core.soundbudget import KeptSound, standing, to_drop


def sound(order: int, drill: str = "a", **more: object) -> KeptSound:
    made = KeptSound(f"{order:032x}", 10, drill, order, 60.0, 0.5, passed=False)
    return replace(made, **more)


@st.composite
def kept(draw):
    orders = draw(st.lists(st.integers(1, 99), unique=True, max_size=25))
    return [
        sound(
            order,
            draw(st.sampled_from("abc")),
            size_bytes=draw(st.integers(1, 20)),
            tempo_bpm=draw(st.sampled_from([60.0, 72.0, 80.0])),
            accuracy=draw(st.sampled_from([0.5, 0.8, 0.95])),
            passed=draw(st.booleans()),
        )
        for order in orders
    ]


def spared(sounds: list[KeptSound]) -> set[str]:
    """The last and the best of each drill, found by sorting."""
    found = set()
    for drill in {one.drill for one in sounds}:
        mine = sorted((one for one in sounds if one.drill == drill), key=lambda one: one.order)
        passed = [one for one in mine if one.passed]
        if passed:
            best = sorted(passed, key=lambda one: (one.tempo_bpm, one.accuracy, one.order))[-1]
        else:
            best = sorted(mine, key=lambda one: (one.accuracy, one.tempo_bpm, one.order))[-1]
        found |= {mine[-1].uid, best.uid}
    return found


@given(kept(), st.integers(0, 300), st.randoms(use_true_random=False))
def test_what_is_dropped_is_as_little_as_can_be_and_the_right_ones(sounds, budget, rng):
    dropped = to_drop(sounds, budget)
    size = {one.uid: one.size_bytes for one in sounds}
    left = sum(size.values()) - sum(size[uid] for uid in dropped)
    assert left <= budget
    if dropped:
        assert left + size[dropped[-1]] > budget
    order = {one.uid: one.order for one in sounds}
    for group in (spared(sounds), set(size) - spared(sounds)):
        gone = [uid for uid in dropped if uid in group]
        stays = [uid for uid in group if uid not in gone]
        assert gone == sorted(gone, key=order.__getitem__)
        assert all(order[a] < order[b] for a in gone for b in stays)
    if spared(sounds) & set(dropped):
        assert set(size) - spared(sounds) <= set(dropped)
    mixed = list(sounds)
    rng.shuffle(mixed)
    assert to_drop(mixed, budget) == dropped


def test_the_last_and_the_best_stay_longest():
    sounds = [
        sound(1, passed=True, tempo_bpm=80.0, accuracy=0.92),
        sound(2, passed=True, tempo_bpm=72.0, accuracy=1.0),
        sound(3),
        sound(4, "b", accuracy=0.8),
        sound(5, "b", accuracy=0.7),
        sound(6),
    ]
    number = {one.uid: one.order for one in sounds}
    assert [number[uid] for uid in to_drop(sounds, 0)] == [2, 3, 1, 4, 5, 6]
    assert to_drop(sounds, 60) == []
    assert [number[uid] for uid in to_drop(sounds, 59)] == [2]


def test_the_better_take():
    assert standing(60, 0.9, 1, passed=True) > standing(80, 0.89, 2, passed=False)
    assert standing(80, 0.9, 1, passed=True) > standing(72, 1.0, 2, passed=True)
    assert standing(60, 0.8, 1, passed=False) > standing(80, 0.7, 2, passed=False)
    assert standing(60, 0.8, 2, passed=False) > standing(60, 0.8, 1, passed=False)
