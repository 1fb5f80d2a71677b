"""A take in its ensemble."""

from __future__ import annotations

import json
from fractions import Fraction
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.core.tutti.ensemble import Ensemble, Sounded, Voice
from coach.core.tutti.fit import NO_RELEASES, fit_of
from coach.core.tutti.others import chords
from coach.core.tutti.words import fit_sentences
from coach.core.warp import Warp, ramp
from tests.core.tutti.simulated import (
    RATE,
    ensemble_of,
    noise,
    notes_of,
    plan_of,
    sounding_at,
    take,
    voice,
)

QUARTER = Fraction(1)
BARS = 8
PLAN = plan_of(notes_of([60, 62, 64, 65] * 2 * BARS))
CHORDS = voice("low", notes_of([48] * 4 * BARS, QUARTER))
ENSEMBLE = ensemble_of(PLAN, CHORDS)


def with_rests():
    """Two bars, a rest of two bars, two bars."""
    return plan_of([*notes_of([60, 62] * 8), *notes_of([60, 62] * 8, start=Fraction(16))])


def test_a_perfect_take_fits():
    fit = fit_of(take(PLAN), PLAN, ENSEMBLE)
    assert (fit.offset_ms, fit.behind_ms, fit.spread_ms) == (0, 0, 0)
    assert [one.against_ms for one in fit.attacks[:4]] == [0, None, 0, None]
    assert [one.voices for one in fit.attacks[:2]] == [(1,), ()]
    assert not any(drift.clear for drift in fit.drifts)
    assert fit_sentences(fit)[0] == "It fits: go on."
    assert fit.unmeasured == NO_RELEASES


@settings(max_examples=20)
@given(st.integers(-90, 90), st.integers(0, 99))
def test_a_shift_of_all_attacks_changes_the_offsets_only(shift_ms, seed):
    plan = with_rests()
    ensemble = ensemble_of(plan, voice("low", notes_of([48] * 24, QUARTER)))
    off = [float(round(x)) for x in noise(Random(seed), len(plan.dues), 9)]
    one = fit_of(take(plan, lambda k: off[k]), plan, ensemble)
    other = fit_of(take(plan, lambda k: off[k] + shift_ms), plan, ensemble)
    assert other.offset_ms == pytest.approx(one.offset_ms + shift_ms)
    assert other.behind_ms == pytest.approx(one.behind_ms + shift_ms)
    for name in ("attacks", "entries", "drifts", "runs"):
        mine, theirs = (json.dumps(fit.to_dict()[name]) for fit in (one, other))
        assert mine == theirs


def test_others_who_were_heard_are_what_counts():
    late = [due + 960 for due in range(96_000, 96_000 + 4 * BARS * 24_000, 24_000)]
    fit = fit_of(take(PLAN), PLAN, ENSEMBLE, {1: late})
    assert fit.offset_ms == 0
    assert fit.behind_ms == pytest.approx(-20)
    assert all(one.against_ms == pytest.approx(0) for one in fit.attacks[::2])


def test_an_attack_that_was_not_heard_is_no_reference():
    heard = [96_000, 96_000 + 24_000 + 9_600]
    fit = fit_of(take(PLAN), PLAN, ENSEMBLE, {1: heard})
    assert [one.against_ms for one in fit.attacks[:5]] == [0, None, None, None, None]


def test_entries_after_rests_are_told_apart():
    plan = with_rests()
    fit = fit_of(take(plan, lambda k: 48 if k == 16 else 0), plan, ensemble_of(plan))
    assert [(e.index, e.bar, e.after, e.rest_beats, e.late_ms) for e in fit.entries] == [
        (0, 1, "start", 0, 0),
        (16, 5, "rest", 8, 48),
    ]
    said = fit_sentences(fit)
    assert said[0] == "Breathe a beat sooner before bar 5."
    assert "The entry in bar 5 is 48 ms late." in said


def test_a_missed_entry_is_known_as_missed():
    plan = with_rests()
    fit = fit_of(take(plan, missed=[16]), plan, ensemble_of(plan))
    assert fit.entries[1].late_ms is None


def test_the_note_after_a_fermata_is_an_entry():
    warp = Warp(((Fraction(0), Fraction(1)),), ((Fraction(4), Fraction(2)),))
    plan = plan_of(notes_of([60] * 16), warp=warp)
    fit = fit_of(take(plan), plan, ensemble_of(plan))
    assert [(e.index, e.after) for e in fit.entries] == [(0, "start"), (9, "fermata")]


def test_pitch_against_the_chord():
    chord = (
        voice("low", notes_of([48], Fraction(32))),
        voice("fifth", notes_of([55], Fraction(32))),
    )
    fit = fit_of(take(PLAN, cents=lambda k: -10.0), PLAN, ensemble_of(PLAN, *chord))
    third = next(one for one in fit.pitches if one.pitch == 64)
    assert (third.semitones, third.chord) == (4, (48, 55))
    assert third.just_cents == pytest.approx(3.686, abs=0.001)
    assert third.tempered_cents == pytest.approx(-10)
    assert all(one.pitch != 60 or one.semitones == 0 for one in fit.pitches)
    assert any("+4 cents from just, -10 from tempered" in said for said in fit_sentences(fit))


@given(st.lists(st.tuples(st.integers(0, 12), st.integers(1, 8), st.integers(40, 80)), max_size=12))
def test_what_sounds_is_what_sounds_at_each_beat(notes):
    sounded = tuple(Sounded(Fraction(a, 2), Fraction(n, 2), pitch) for a, n, pitch in sorted(notes))
    voices = (Voice("own", 60, ()), Voice("a", 60, sounded[::2]), Voice("b", 60, sounded[1::2]))
    beats = [Fraction(k, 4) for k in range(40)]
    for beat, chord in zip(beats, chords(Ensemble(voices, 0, Fraction(20)), beats), strict=True):
        assert sorted(chord) == sorted(one.pitch for _, one in sounding_at(voices, beat))


def test_evenness_of_a_run():
    """Intervals of 260 and 240 ms in turn: a standard deviation of 10 on 250, 4 %."""
    fit = fit_of(take(PLAN, lambda k: 10 * (k % 2)), PLAN, ENSEMBLE)
    (run,) = fit.runs
    assert (run.first, run.last, run.from_bar, run.to_bar) == (0, 63, 1, 8)
    assert run.cv == pytest.approx(0.04, abs=0.001)


def test_a_change_of_tempo_is_no_unevenness():
    warp = Warp(((Fraction(0), Fraction(1)), (Fraction(8), Fraction(1, 2))))
    plan = plan_of(notes_of([60, 62] * 16), warp=warp)
    (run,) = fit_of(take(plan), plan, ensemble_of(plan)).runs
    assert run.cv == pytest.approx(0, abs=1e-4)


def test_rushing_from_a_bar_on():
    """Steady to bar 4, then 12 ms a bar ahead (1.5 ms on each of 8 notes)."""
    off = noise(Random(5), 64, 3)
    rushing = take(PLAN, lambda k: off[k] - 1.5 * max(0, k - 24))
    (drift,) = fit_of(rushing, PLAN, ENSEMBLE).drifts
    assert drift.clear
    assert abs(drift.from_bar - 4) <= 1
    assert drift.low_ms <= -12 <= drift.high_ms
    said = fit_sentences(fit_of(rushing, PLAN, ENSEMBLE))
    assert said[0] == f"Hold back from bar {drift.from_bar} on."
    assert said[1].startswith(f"You rush {-drift.ms_per_bar:.0f} ms a bar from bar")


@pytest.mark.parametrize("alike", [0.0, 0.4])
def test_who_keeps_the_tempo_is_hardly_ever_told_of(alike):
    """A loose player, so that luck alone makes slopes large enough to be told."""
    told = 0
    for seed in range(60):
        off = noise(Random(seed), 64, 30, alike)
        report = take(PLAN, lambda k, off=off: off[k])
        told += any(d.clear for d in fit_of(report, PLAN, ENSEMBLE).drifts)
    assert told <= 2


def test_a_late_entry_is_no_rushing_afterwards():
    plan = with_rests()
    error = noise(Random(1), len(plan.dues), 2)
    late = take(plan, lambda k: error[k] + (90 if k == 16 else 0))
    shown = fit_of(late, plan, ensemble_of(plan)).drifts[1]
    assert (shown.notes, shown.clear) == (15, False)
    assert abs(shown.growth_ms) < 10


@pytest.mark.parametrize(("start", "entries"), [(Fraction(9), 2), (Fraction(17, 2), 1)])
def test_a_rest_of_a_beat_makes_an_entry_and_half_of_one_does_not(start, entries):
    plan = plan_of([*notes_of([60, 62] * 8), *notes_of([60, 62], start=start)])
    assert len(fit_of(take(plan), plan, ensemble_of(plan)).entries) == entries


RITARDANDO = Warp(
    (
        (Fraction(0), Fraction(1)),
        *ramp(Fraction(16), Fraction(24), Fraction(1), Fraction(3, 5), QUARTER),
        (Fraction(24), Fraction(1)),
    )
)


def not_following(share: float):
    """A player who stays that far in the old tempo through the ritardando, and then is with the
    others again."""
    plan = plan_of(notes_of([60, 62] * 32), warp=RITARDANDO)
    start = plan.dues[32].frame

    def off_ms(k: int) -> float:
        beats = plan.exercise.passage.notes[k].start_beats
        if not 16 <= beats <= 24:
            return 0.0
        staying = start + float(beats - 16) * RATE / 2
        return share * (staying - plan.dues[k].frame) * 1000 / RATE

    return plan, off_ms


@pytest.mark.parametrize("share", [0.0, 0.5, 1.0, -0.5])
def test_a_ritardando_and_how_much_of_it_was_followed(share):
    plan, off = not_following(share)
    error = noise(Random(2), len(plan.dues), 4)
    fit = fit_of(take(plan, lambda k: off(k) + error[k]), plan, ensemble_of(plan))
    slow = fit.changes[0]
    assert (slow.change.start_beats, slow.change.end_beats, slow.change.gradual) == (16, 24, True)
    assert slow.low <= share <= slow.high
    assert slow.kept == pytest.approx(share, abs=0.05)
    assert slow.clear == (share != 0)
    assert not any(drift.clear for drift in fit.drifts)


def test_a_ritardando_not_followed_in_words():
    plan, off = not_following(1.0)
    said = fit_sentences(fit_of(take(plan, off), plan, ensemble_of(plan)))
    assert said[0] == "Follow the ritardando in bar 5: listen to the others there."
    assert said[1].startswith("The ritardando in bar 5 is not followed: you are ")
    assert said[1].endswith("ms ahead by bar 7.")


def test_a_sudden_tempo_that_is_not_taken():
    warp = Warp(((Fraction(0), Fraction(1)), (Fraction(8), Fraction(4, 5))))
    plan = plan_of(notes_of([60, 62] * 16), warp=warp)

    def off_ms(k: int) -> float:
        beats = float(plan.exercise.passage.notes[k].start_beats)
        return -125 * (beats - 8) if 8 <= beats < 12 else -500.0 if beats >= 12 else 0.0

    fit = fit_of(take(plan, off_ms), plan, ensemble_of(plan))
    (change,) = fit.changes
    assert (change.change.gradual, change.clear) == (False, True)
    assert change.kept == pytest.approx(1, abs=0.01)


def test_too_little_to_tell():
    plan = plan_of(notes_of([60, 62]))
    fit = fit_of(take(plan, missed=[0, 1]), plan, ensemble_of(plan))
    assert fit.offset_ms is None
    assert fit_sentences(fit)[0].startswith("Play it again")


def test_a_report_of_another_plan_is_refused():
    other = plan_of(notes_of([60, 62] * 3))
    with pytest.raises(ValueError, match="another plan"):
        fit_of(take(other), PLAN, ENSEMBLE)


def test_plain_data():
    plan, off = not_following(1.0)
    fit = fit_of(take(plan, off), plan, ensemble_of(plan, CHORDS))
    found = json.loads(json.dumps(fit.to_dict()))
    assert found["changes"][0]["change"]["start_beats"] == 16.0
    assert set(found) >= {"offset_ms", "attacks", "entries", "pitches", "runs", "drifts", "changes"}
