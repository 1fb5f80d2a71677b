"""What horn players know of fingerings must come out of the planner.

Common practice, no source, where nothing else is said.  Pitches are written, double horn in F,
sounding a fifth lower (written - 7).
"""

from __future__ import annotations

import csv

import pytest

from coach.core.fingering.ask import fixed_plan, problem_of
from coach.core.fingering.candidates import candidates, chart_fingering, retuned
from coach.core.fingering.explain import are_close, summed
from coach.core.fingering.planner import plans
from coach.core.fingering.problem import FingeringPlan
from coach.core.fingering.weights import Weights
from coach.core.instrument import Instrument
from coach.core.pitch import midi_of_name, name_of_midi
from coach.files.configs import load_instrument
from coach.files.drillshelf import load_drill
from coach.files.fingering import load_weights
from tests.core.fingering_making import passage_of

HORN = load_instrument("double-horn")


def names(plan: FingeringPlan) -> list[str]:
    return [candidate.fingering for candidate in plan.chosen]


def planned(
    text: str, tempo_bpm: float, instrument: Instrument = HORN, count: int = 1
) -> tuple[FingeringPlan, ...]:
    return plans(problem_of(passage_of(text, HORN), tempo_bpm, instrument, Weights()), count)


def best(text: str, tempo_bpm: float, instrument: Instrument = HORN) -> list[str]:
    return names(planned(text, tempo_bpm, instrument)[0])


def fixed(text: str, tempo_bpm: float, fingerings: str) -> FingeringPlan:
    problem = problem_of(passage_of(text, HORN), tempo_bpm, HORN, Weights())
    return fixed_plan(problem, HORN, fingerings.split())


def exchanges(plan: FingeringPlan) -> list[float]:
    return [each.get("exchanges", 0.0) for each in plan.terms]


def test_the_weights_are_those_of_the_configs():
    assert load_weights() == Weights()


@pytest.mark.parametrize(
    ("trouble", "valves", "beside", "easy"),
    [
        ("B4 Bb4 B4 Bb4", "T2 T1 T2 T1", "C5 Bb4 C5 Bb4", "T0 T1 T0 T1"),
        ("F#4 F4 F#4 F4", "2 1 2 1", "G4 F4 G4 F4", "0 1 0 1"),
    ],
)
@pytest.mark.parametrize("tempo_bpm", [100, 132])
def test_first_against_second_finger_costs_clearly_more(trouble, valves, beside, easy, tempo_bpm):
    hard = fixed(trouble, tempo_bpm, valves)
    assert all(cost > 0 for cost in exchanges(hard)[1:])
    assert hard.cost > 1.5 * fixed(beside, tempo_bpm, easy).cost


def test_a_second_exchange_costs_more_than_the_first():
    costs = exchanges(fixed("B4 Bb4 A4 Bb4 B4", 126, "T2 T1 T12 T1 T2"))
    assert costs[4] > costs[1] > 0


def test_one_exchange_is_avoided_sooner_by_a_longer_way_round():
    """Fewer exchanges than the chart's fingerings have, at speed; at leisure the chart."""
    trill = "B4 Bb4 B4 Bb4 B4 Bb4"
    assert best(trill, 40) == ["T2", "T1"] * 3
    charted = fixed(trill, 144, "T2 T1 T2 T1 T2 T1")
    quick = planned(trill, 144)[0]
    assert sum(exchanges(quick)) < sum(exchanges(charted)) / 2


@pytest.mark.parametrize(
    ("run", "place", "seventh", "charted"),
    [
        ("F4 G4 Ab4 Bb4 Ab4 G4 F4*4", 2, "1", "23"),
        ("Bb4 C5 Db5 Eb5 Db5 C5 Bb4*4", 2, "T1", "T23"),
    ],
)
def test_the_seventh_partial_serves_in_a_run_and_not_on_a_long_note(run, place, seventh, charted):
    plan = planned(run, 138)[0]
    assert names(plan)[place] == seventh
    assert plan.chosen[place].partial == 7
    held = run.split()
    held[place] += "*16"
    assert best(" ".join(held[: place + 1]), 60)[-1] == charted


def test_a_figure_a_fourth_higher_keeps_its_valves_on_the_other_side():
    """The tubes lie a fourth apart, so that the same valves give the same partials there."""
    low, high = "C4 ~D4 E4 F4 G4*2 E4*2", "F4 ~G4 A4 Bb4 C5*2 A4*2"
    chosen = planned(f"{low} {high} {low}", 120)[0].chosen
    first, second, third = chosen[:6], chosen[6:12], chosen[12:]
    assert [c.fingering for c in first] == [c.fingering for c in third]
    assert {c.side for c in first} == {"F"}
    assert {c.side for c in second} == {"Bb"}
    # The last note is long enough to be fingered for the ear.
    assert [c.valves for c in first[:5]] == [c.valves for c in second[:5]]
    assert [c.partial for c in first[:5]] == [c.partial for c in second[:5]]


def test_the_drill_of_a_figure_a_fourth_higher_goes_from_side_to_side():
    drill, horn = load_drill("fourth-higher")
    problem = problem_of(drill.variants[0], drill.to_bpm, horn, Weights())
    chosen = plans(problem)[0].chosen
    assert {c.side for c in chosen[:6]} == {"F"}
    assert {c.side for c in chosen[6:24]} == {"Bb"}
    assert {c.side for c in chosen[24:]} == {"F"}
    assert all(a.valves == b.valves for a, b in zip(chosen[6:12], chosen[18:24], strict=True))


def test_from_open_g_to_a_flat_at_speed_one_stays_on_the_side():
    for run in ("E4 F4 G4 Ab4 G4 F4 E4*4", "G4 Ab4 G4 Ab4 G4*4", "G4 Ab4 Bb4 Ab4 G4*4"):
        for tempo_bpm in (108, 132, 160):
            chosen = planned(run, tempo_bpm)[0].chosen
            assert len({candidate.side for candidate in chosen}) == 1, run


def test_a_fast_run_of_an_octave_has_no_change_of_side():
    for run in ("C4 D4 E4 F4 G4 A4 B4 C5", "F4 G4 A4 Bb4 C5 D5 E5 F5", "G4 F4 Eb4 D4 C4 Bb3 A3 G3"):
        assert "side_changes" not in summed(planned(run, 144)[0].terms)


@pytest.mark.parametrize(
    "chord", ["C4 E4 G4 C5 E5 C5 G4 E4 C4", "C4 E4 G4 C5 E5 G5 E5 C5 G4 E4 C4"]
)
def test_an_open_chord_may_also_be_tried_on_the_shorter_tubes(chord):
    one, two = planned(chord, 96, count=2)
    open_side, short_side = sorted((one, two), key=lambda plan: plan.chosen[0].length)[::-1]
    assert set(names(open_side)) == {"0"}
    assert {candidate.side for candidate in short_side.chosen} == {"Bb"}
    assert are_close(one, two)


def test_what_the_fingers_know_is_not_changed_for_a_small_gain():
    run, old = "G4 A4 B4 C5 D5 C5 B4 A4 G4*4", "0 12 2 0 0 0 2 12 0"
    new = planned(run, 112)[0]
    assert names(new) != old.split()
    assert new.cost < fixed(run, 112, old).cost
    problem = problem_of(passage_of(run, HORN), 112, HORN, Weights(), known=old.split())
    assert names(plans(problem)[0]) == old.split()


def test_what_the_fingers_know_gives_way_to_a_great_gain():
    run, old = "F4 G4 Ab4 Bb4 Ab4 G4 F4*4", "1 0 23 1 23 0 1"
    problem = problem_of(passage_of(run, HORN), 144, HORN, Weights(), known=old.split())
    assert names(plans(problem)[0]) == ["1", "0", "1", "1", "1", "0", "1"]


def test_retuned_a_semitone_down_all_is_fingered_a_semitone_higher():
    """Arithmetic: every tube is a semitone longer by name, so each note is fingered as the next."""
    low = retuned(HORN, {"F": -1, "Bb": -1})
    for written in range(midi_of_name("B2"), midi_of_name("B5")):
        pitch = written + HORN.transposition
        assert chart_fingering(low, pitch) == chart_fingering(HORN, pitch + 1)
    run = "C4 E4 G4 F#4 A4 C5 B4 D5 C#5 Bb4 G4 E4 F4 Ab4 G4 C4*4"
    higher = " ".join(up_a_semitone(entry) for entry in run.split())
    for tempo_bpm in (60, 100, 140):
        assert best(run, tempo_bpm, low) == best(higher, tempo_bpm)


def up_a_semitone(entry: str) -> str:
    name, star, units = entry.partition("*")
    return name_of_midi(midi_of_name(name) + 1) + star + units


def test_tuned_to_b_natural_b_major_is_an_easy_key():
    """Sounding B major is written F# major; with the B-flat side in B (and the F side in F#) it is
    fingered as F major."""
    in_b = retuned(HORN, {"F": 1, "Bb": 1})
    run = "F#4 G#4 A#4 B4 C#5 D#5 F5 F#5 F5 D#5 C#5 B4 A#4 G#4 F#4*4"
    untuned, tuned = planned(run, 132)[0], planned(run, 132, in_b)[0]
    easy = planned("F4 G4 A4 Bb4 C5 D5 E5 F5 E5 D5 C5 Bb4 A4 G4 F4*4", 132)[0]
    assert names(tuned) == names(easy)
    assert tuned.cost < 0.75 * untuned.cost
    assert sum(map(bool, exchanges(tuned))) < sum(map(bool, exchanges(untuned)))


def slow_differences(charted: dict[str, str]) -> set[str]:
    return {name for name, valves in charted.items() if best(f"{name}*16", 60) != [valves]}


def test_slow_long_notes_are_fingered_by_the_chart():
    """The chart of configs/instruments/double-horn.toml, written C3 to C6."""
    written = range(midi_of_name("C3"), midi_of_name("C6") + 1)
    chart = dict(HORN.chart)
    charted = {name_of_midi(w): chart[w + HORN.transposition] for w in written}
    assert len(charted) == 37
    assert slow_differences(charted) == set()


@pytest.mark.shared
def test_slow_long_notes_are_fingered_by_the_published_charts(shared_dir):
    """Standard fingerings that two transcriptions of a maker's chart and a fingering dictionary
    agree on, with their sources in each row."""
    with (shared_dir / "facts" / "horn_double_C3_C6_standard.csv").open(encoding="utf-8") as rows:
        charted = {
            name_of_midi(int(row["written_midi"])): "T" * int(row["thumb"]) + row["valves"]
            for row in csv.DictReader(rows)
            if row["status"] == "standard"
        }
    assert len(charted) == 37
    assert slow_differences(charted) == set()


def test_every_fingering_planned_gives_the_note():
    run = passage_of("C3 F3 B3 E4 A4 D5 G5 C6 F#5 C#5 G#4 D#4 A#3", HORN)
    for plan in plans(problem_of(run, 120, HORN, Weights()), 3):
        for note, chosen in zip(run.notes, plan.chosen, strict=True):
            assert chosen in candidates(HORN, note.pitch)
