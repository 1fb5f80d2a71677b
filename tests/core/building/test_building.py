"""Speed building: a way over days, each day in time, within its load, with a good end."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.core.building import STEPS, plan_building
from coach.core.course import Course, CoursePart, blowing_s, resting_s
from coach.core.exercise import Drill
from coach.core.passage import Note, Passage, in_a_row
from coach.core.patterns.keys import SCALES
from coach.core.patterns.layout import Layout, lay
from coach.core.patterns.lines import run
from coach.files.building import load_building
from coach.files.configs import load_instrument
from coach.files.drillshelf import list_drills, load_drill

SETTINGS = load_building()
HORN = load_instrument("double-horn")
calm = settings(max_examples=30)


def drill(name: str = "run", *, octaves: int = 1, syllables: tuple[str, ...] = ()) -> Drill:
    """A scale up and down in sixteenths, sounding."""
    layout = Layout((Fraction(1, 4),), syllables=syllables)
    passage = lay(run(SCALES["major"].ladders(53), 7 * octaves), layout)
    return Drill(name, f"The {name}", "", (passage,), 60, 120, HORN.name)


def planned(drills: list[Drill], day: int = 1, days: int = 5, **more) -> Course:
    usual = {"to_bpm": 120, "ceiling_bpm": None, "seed": 1, "minutes": 22, "settings": SETTINGS}
    return plan_building(drills, HORN, day=day, days=days, **{**usual, **more})


def step(part: CoursePart, drills: list[Drill]) -> str:
    """The step that a part is; those on the whole at its own tempo bear the drill's name."""
    for known in drills:
        if part.drill.name == known.name:
            return "whole"
        if part.drill.name.startswith(f"{known.name}-"):
            return part.drill.name.removeprefix(f"{known.name}-")
    raise AssertionError(part.drill.name)


def names_of(part: CoursePart) -> str:
    return part.drill.title.partition(":")[0]


@st.composite
def passages(draw):
    """Any rhythm with slurs, rests and syllables, in several meters."""
    notes, at = [], Fraction(draw(st.sampled_from([0, 0, 1])))
    lengths = st.sampled_from([Fraction(1, 4), Fraction(1, 4), Fraction(1, 2), Fraction(1, 3)])
    for _ in range(draw(st.integers(1, 70))):
        length = draw(lengths)
        pitch = draw(st.integers(48, 65))
        joins = bool(notes) and notes[-1].end_beats == at and notes[-1].pitch != pitch
        slurred = joins and draw(st.booleans())
        syllable = None if slurred else draw(st.sampled_from([None, "ta", "ka"]))
        notes.append(Note(pitch, at, length, slurred, syllable))
        at += length + draw(st.sampled_from([Fraction(0)] * 5 + [Fraction(1, 2)]))
    bar, pulse = draw(st.sampled_from([(4, Fraction(1)), (3, Fraction(1)), (3, Fraction(3, 2))]))
    return Passage(tuple(notes), bar_beats=Fraction(bar), pulse_beats=pulse)


@calm
@given(
    made=st.lists(passages(), min_size=1, max_size=3),
    days=st.integers(1, 9),
    data=st.data(),
    to_bpm=st.integers(40, 180),
    minutes=st.integers(15, 40),
)
def test_every_day_of_any_way_holds(made, days, data, to_bpm, minutes):
    """In time, rests as long as playing, load kept, nothing above or below the passage, a good end,
    and by turns."""
    day = data.draw(st.integers(1, days))
    drills = [
        Drill(f"p{k}", f"Passage {k}", "", (passage,), 50, 120, HORN.name)
        for k, passage in enumerate(made)
    ]
    course = planned(drills, day, days, to_bpm=to_bpm, minutes=minutes)
    assert course == planned(drills, day, days, to_bpm=to_bpm, minutes=minutes)
    assert course.length_s <= 60 * minutes
    assert sum(blowing_s(part) for part in course.parts) <= 60 * SETTINGS.load_minutes
    lows = {d.title: min(n.pitch for n in d.variants[0].notes) for d in drills}
    highs = {d.title: max(n.pitch for n in d.variants[0].notes) for d in drills}
    for part in course.parts:
        assert resting_s(part) >= blowing_s(part) - 1e-6
        assert part.why.endswith(".")
        assert part.why.count(". ") == 0
        assert part.drill.from_bpm <= part.drill.to_bpm
        for note in (note for p in part.drill.variants for note in p.notes):
            assert lows[names_of(part)] <= note.pitch <= highs[names_of(part)]
    assert "doctor" in course.parts[0].caution
    last = course.parts[-len(drills) :]
    assert {part.drill.name for part in last} == {d.name for d in drills}
    for part in last:
        assert part.drill.variants == next(d.variants for d in drills if d.name == part.drill.name)
        assert part.drill.from_bpm == part.drill.to_bpm <= to_bpm
        assert part.takes


@pytest.mark.parametrize("row", list_drills(), ids=lambda row: row.name)
def test_every_shipped_drill_can_be_built(row):
    shipped, instrument = load_drill(row.name)
    for day in (1, 3, 5):
        course = plan_building(
            [shipped],
            instrument,
            to_bpm=shipped.to_bpm,
            day=day,
            days=5,
            ceiling_bpm=None,
            seed=1,
            minutes=30,
            settings=SETTINGS,
        )
        assert course.parts[-1].drill.name == shipped.name


def test_a_day_is_nearly_full():
    for drills in ([drill(octaves=2)], [drill("one"), drill("two", octaves=2)]):
        for day in range(1, 6):
            assert 0.8 * 22 * 60 <= planned(drills, day).length_s <= 22 * 60


def test_the_way_goes_from_slow_pieces_to_the_whole_above_the_goal():
    """Common practice, no source."""
    drills = [drill(syllables=("ta", "ka"))]
    early, middle, late = (
        [step(part, drills) for part in planned(drills, day).parts] for day in (1, 3, 5)
    )
    assert early[0] == "slow"
    assert {"rhythms", "exchanges", "slurs", "tongue", "windows"} < set(early)
    assert {"bursts", "contrast", "adding", "accents", "whole"} <= set(middle)
    assert not {"rhythms", "exchanges", "slurs", "tongue", "windows"} & set(middle + late)
    assert late[-3:] == ["whole", "whole", "whole"]
    above, goal = planned(drills, 5).parts[-2:]
    assert (above.drill.to_bpm, goal.drill.to_bpm) == (126, 120)
    for names in (early, middle, late):
        places = [STEPS.index(name) for name in dict.fromkeys(names) if name in STEPS]
        assert places == sorted(places)


def test_every_day_ends_well_within_what_goes():
    """85 % of what goes now; on the last day the goal."""
    drills = [drill()]
    for day in range(1, 5):
        end = planned(drills, day, ceiling_bpm={"run": 100}).parts[-1]
        assert end.drill.from_bpm == end.drill.to_bpm == 85
        assert end.takes > 1
    assert planned(drills, 5, ceiling_bpm={"run": 100}).parts[-1].drill.to_bpm == 120


def test_what_goes_sets_the_tempi():
    slow, fast = (
        planned([drill()], 1, ceiling_bpm={"run": bpm}).parts[0].drill.from_bpm for bpm in (60, 100)
    )
    assert (slow, fast) == (36, 60)
    # Who is there already practises at the goal, not above it.
    there = planned([drill()], 1, ceiling_bpm={"run": 200})
    assert max(part.drill.to_bpm for part in there.parts) == 120


def test_unknown_the_days_go_up_by_like_shares_from_the_drills_own_tempo():
    ends = [planned([drill()], day).parts[-1].drill.to_bpm for day in range(1, 5)]
    # From 60 to 120 in five steps of 2 ** (1 / 5), of which the end takes 85 %.
    wanted = [round(0.85 * 60 * 2 ** (k / 5)) for k in range(4)]
    assert ends == pytest.approx(wanted, abs=1)
    fast = replace(drill(), from_bpm=130.0, to_bpm=160.0)
    assert planned([fast], 1).parts[-1].drill.to_bpm == round(0.85 * 0.6 * 120)


def test_passages_come_by_turns():
    drills = [drill(name, octaves=2) for name in ("one", "two", "three")]
    orders = set()
    for seed in range(6):
        parts = planned(drills, 3, seed=seed, minutes=40).parts
        names = [names_of(part) for part in parts]
        assert all(a != b for a, b in itertools.pairwise(names))
        orders.add(tuple(names[:3]))
    assert len(orders) > 1


def test_days_differ():
    drills = [drill(octaves=2)]
    courses = [planned(drills, day).parts for day in range(1, 6)]
    assert len(set(courses)) == 5


def test_only_back_syllables_make_a_tongue_step():
    assert "tongue" not in [step(p, [drill()]) for p in planned([drill()]).parts]
    tongued = drill(syllables=("ta",))
    assert "tongue" not in [step(p, [tongued]) for p in planned([tongued]).parts]


def test_triple_tonguing_is_climbed_by_its_own_ladder():
    row = in_a_row([53, 55, 57, 58, 60, 58, 57, 55, 53] * 2, Fraction(1, 3))
    spoken = tuple(
        replace(n, syllable="tak"[k % 3] and ("ta", "ta", "ka")[k % 3]) for k, n in enumerate(row)
    )
    triple = Drill("trip", "Trip", "", (Passage(spoken),), 60, 120, HORN.name)
    (part, *_) = [p for p in planned([triple]).parts if p.drill.name == "trip-tongue"]
    titles = [passage.title for passage in part.drill.variants]
    assert any(title.endswith("triple") for title in titles)
    assert not any(title.endswith("double") for title in titles)


def test_of_a_long_passage_every_note_comes_into_some_piece():
    long = replace(drill(octaves=2), variants=(lay([53 + k % 12 for k in range(150)],
                                                   Layout((Fraction(1, 4),))),))  # fmt: skip
    seen = set()
    for day in range(1, 9):
        for part in planned([long], day, 20, minutes=40).parts:
            if part.drill.name == "run-windows":
                seen.add(part.why.partition(" on ")[0])
                assert all(len(p.notes) <= 9 for p in part.drill.variants)
    # 150 notes in pieces of 48 at most: four.
    assert len(seen) == 4


def test_one_note_has_only_the_whole():
    one = Drill("one", "One", "", (Passage(in_a_row([60], Fraction(1))),), 60, 120, HORN.name)
    names = {part.drill.name for day in (1, 3, 5) for part in planned([one], day).parts}
    assert names == {"one", "one-slow"}


AIR = replace(drill().variants[0], way="air")


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"to_bpm": 5}, "a goal lies from 10 to 400 clicks a minute"),
        ({"to_bpm": math.nan}, "a goal lies from 10 to 400"),
        ({"days": 0}, "takes 1 to 30 days"),
        ({"day": 6}, "there are days 1 to 5, no day 6"),
        ({"day": 0}, "there are days 1 to 5, no day 0"),
        ({"minutes": 9}, "lasts 10 to 60 minutes"),
        ({"drills": []}, "no passage to build"),
        ({"drills": [drill(), drill()]}, "given twice"),
        ({"drills": [replace(drill(), variants=())]}, '"The run" has nothing that is played'),
        ({"drills": [replace(drill(), variants=(AIR,))]}, '"The run" has nothing that is played'),
        ({"ceiling_bpm": {"run": 0.0}}, "the tempo that goes in run must be above 0"),
        ({"minutes": 10, "drills": [replace(drill(), variants=(Passage(in_a_row([60, 62] * 600,
          Fraction(1))),))]}, '"The run" is too long for its share of the time'),
    ],
)  # fmt: skip
def test_what_cannot_be_planned_is_said(change, sentence):
    change = {"drills": [drill()], "day": 1, **change}
    with pytest.raises(ValueError, match=sentence):
        planned(change.pop("drills"), **change)
