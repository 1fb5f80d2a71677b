"""Fingerings from physics, against published charts and the arithmetic of tubes and valves."""

from __future__ import annotations

import csv
import math
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.core.fingering.candidates import (
    Candidate,
    candidates,
    chart_fingering,
    crooked,
    retuned,
)
from coach.core.instrument import Instrument, Tube
from coach.core.pitch import hz_of_midi, midi_of_name
from coach.files.configs import instrument_names, load_instrument

NAMES = instrument_names()
# One tube on C0 with the four usual valves.
FOUR = replace(
    load_instrument("euphonium-4"),
    tubes=(Tube("", 12),),
    combinations=load_instrument("euphonium").combinations,
    used_as=(),
    chart=(),
)


def found(instrument: Instrument, written: str) -> dict[str, Candidate]:
    """Candidates of a written note by fingering."""
    pitch = midi_of_name(written) + instrument.transposition
    return {c.fingering: c for c in candidates(instrument, pitch)}


# Deviation in cents of partials 1 to 16 from the nearest tempered semitone, as handbooks of
# acoustics tabulate it: 1200 * log2(n) less the semitones below.
SERIES = [
    (1, 0, 0.0),
    (2, 12, 0.0),
    (3, 19, 1.96),
    (4, 24, 0.0),
    (5, 28, -13.69),
    (6, 31, 1.96),
    (7, 34, -31.17),
    (8, 36, 0.0),
    (9, 38, 3.91),
    (10, 40, -13.69),
    (11, 42, -48.68),
    (12, 43, 1.96),
    (13, 44, 40.53),
    (14, 46, -31.17),
    (15, 47, -11.73),
    (16, 48, 0.0),
]


@pytest.mark.parametrize(("partial", "semitones", "cents"), SERIES)
def test_the_harmonic_series(partial, semitones, cents):
    horn = load_instrument("natural-horn")
    (only,) = candidates(horn, 29 + semitones)
    assert (only.partial, only.fingering, only.drop) == (partial, "0", 0)
    assert only.cents == pytest.approx(cents, abs=0.006)
    assert only.extra == (partial in (7, 11, 13, 14))


def test_nothing_lies_between_the_partials():
    horn = load_instrument("natural-horn")
    at = {29 + semitones for _, semitones, _ in SERIES}
    assert not any(candidates(horn, pitch) for pitch in range(29, 78) if pitch not in at)


# "Intonation tendencies of combination fingerings" (2023): 11, 16, 30 and 54 cents sharp; the
# tenths and the combinations with the fourth valve by arithmetic.
SHARP = [("12", 3, 10.6), ("23", 4, 15.5), ("13", 5, 30.3), ("123", 6, 53.6), ("24", 6, 24.5)]
SHARP += [("14", 7, 48.0), ("2", 1, 0), ("1", 2, 0), ("3", 3, 0), ("4", 5, 0)]
# With the other loops lengthened by a fourth, as 12, 23, 13 and 123 without the valve.
COMPENSATED = [("124", 8, 10.6), ("234", 9, 15.5), ("134", 10, 30.3), ("1234", 11, 53.6)]
COMPENSATED += [("14", 7, 0.0), ("24", 6, 0.0)]


@pytest.mark.parametrize(("valves", "semitones", "cents"), SHARP)
def test_combinations_are_sharp(valves, semitones, cents):
    made = {c.valves: c for c in candidates(FOUR, 24 - semitones)}
    assert made[valves].cents == pytest.approx(cents, abs=0.05)
    assert made[valves].drop == pytest.approx(semitones - cents / 100, abs=0.0005)


@pytest.mark.parametrize(("valves", "semitones", "cents"), COMPENSATED)
def test_compensation(valves, semitones, cents):
    made = {c.valves: c for c in candidates(replace(FOUR, compensating="4"), 24 - semitones)}
    assert made[valves].cents == pytest.approx(cents, abs=0.05)
    assert made[valves].drop == pytest.approx(semitones - cents / 100, abs=0.0005)


def test_the_sum_of_the_semitones_must_be_right():
    """B-flat 1+2+3 is within 60 cents of C5, but by five semitones and not by its six."""
    horn = load_instrument("double-horn")
    assert set(found(horn, "C5")) == {"0", "1", "23", "123", "T0", "T3", "T12", "T13"}


# Rows of published charts: double horn (maker's chart by two transcriptions, and the International
# Horn Society's tips on the low range), trumpet (maker's chart), euphonium (four-valve chart; the
# compensating one derived), trombone (a university's chart, Wikibooks).  Instrument, written note,
# fingering, partial, cents by arithmetic.
CHART_ROWS = [
    ("double-horn", "F#2", "123", 2, 53.6),
    ("double-horn", "C3", "0", 2, 0),
    ("double-horn", "C#3", "T23", 2, 15.5),
    ("double-horn", "D3", "13", 3, 32.3),
    ("double-horn", "E3", "3", 3, 2.0),
    ("double-horn", "F#4", "T12", 5, -3.1),
    ("double-horn", "G#4", "23", 8, 15.5),
    ("double-horn", "G#4", "T23", 6, 17.5),
    ("double-horn", "A4", "T12", 6, 12.6),
    ("double-horn", "G#5", "T2", 10, -13.7),
    ("double-horn", "C6", "T0", 12, 2.0),
    ("double-horn", "F6", "T0", 16, 0),
    ("horn-f", "C#5", "2", 9, 3.9),
    ("horn-bb", "F#3", "123", 3, 55.5),
    ("trumpet", "F#3", "123", 2, 53.6),
    ("trumpet", "C#4", "123", 3, 55.5),
    ("trumpet", "D5", "1", 5, -13.7),
    ("cornet", "E5", "3", 6, 2.0),
    ("trumpet-c", "G5", "13", 8, 30.3),
    ("euphonium-4", "Eb2", "124", 2, -21.2),
    ("euphonium-4", "D2", "234", 2, 4.2),
    ("euphonium-4", "C#2", "134", 2, 36.7),
    ("euphonium-4", "B2", "24", 3, 26.5),
    ("euphonium", "B1", "1234", 2, 53.6),
    ("euphonium", "Eb2", "14", 2, 0),
    ("euphonium-treble", "C6", "0", 8, 0),
    ("trombone", "E2", "7", 2, 0),
    ("trombone", "D4", "4", 6, 2.0),
    ("trombone", "F#4", "3", 7, -31.2),
    ("trombone-f", "C2", "T6", 2, 0),
]


@pytest.mark.parametrize(("name", "written", "fingering", "partial", "cents"), CHART_ROWS)
def test_rows_of_charts(name, written, fingering, partial, cents):
    made = found(load_instrument(name), written)[fingering]
    assert made.partial == partial
    assert made.cents == pytest.approx(cents, abs=0.05)


def rows_of(shared: Path, file: str) -> list[dict[str, str]]:
    with (shared / "facts" / file).open(encoding="utf-8") as stream:
        return list(csv.DictReader(stream))


# Rows that break the 60-cent rule: C2 with all four valves, not compensating, is 75 cents sharp.
BROKEN = {("C2", "1234")}
TABLES = [
    ("double-horn", "horn_double_C3_C6_standard.csv", "dev_cents_A", 61),
    ("double-horn", "horn_double.csv", "dev_cents_A", 196),
    ("double-horn", "horn_by_side_C3_C6.csv", "dev_cents_A", 97),
    ("trumpet", "trumpet_bflat_3valve.csv", "dev_cents_A", 43),
    ("euphonium-4", "euphonium_4valve_noncompensating_concert.csv", "dev_cents_A", 48),
    ("euphonium", "euphonium_4valve_compensating_low_derived.csv", "dev_cents_A", 6),
    ("trombone", "trombone_tenor_positions_concert.csv", "dev_cents_at_nominal_position", 59),
]


@pytest.mark.parametrize(("name", "file", "cents", "count"), TABLES)
def test_every_row_of_the_tables(shared_dir, name, file, cents, count):
    """Compiled from published charts; deviations by independent arithmetic, to 0.1 cents."""
    instrument, rows = load_instrument(name), rows_of(shared_dir, file)
    assert len(rows) == count
    for row in rows:
        key = row["written"], row["valves"]
        assert (row["physics_ok"] == "0") == (key in BROKEN), row
        if key in BROKEN:
            continue
        lever = "T" if row["side"] == "Bb" else ""
        made = found(instrument, row["written"])[lever + row["valves"]]
        assert made.partial == int(row["partial"]), row
        assert made.cents == pytest.approx(float(row[cents]), abs=0.1), row


def test_the_whole_horn(shared_dir):
    """Every pair of side, valves and partial within 60 cents, C3 to C6, less those whose semitones
    do not add up: 1+2+3 as five, partial 11 as 41 and partial 13 as 45."""
    horn, wanted = load_instrument("double-horn"), {}
    rows = rows_of(shared_dir, "horn_physics_candidates_C3_C6.csv")
    semitones = {"0": 0, "2": 1, "1": 2, "12": 3, "3": 3, "23": 4, "13": 5, "123": 6}
    series = {partial: above for partial, above, _ in SERIES}
    for row in rows:
        pitch, base = int(row["written_midi"]) - 7, {"F": 29, "Bb": 34}[row["side"]]
        if base + series[int(row["partial"])] - semitones[row["valves"]] == pitch:
            key = pitch, row["side"], row["valves"], int(row["partial"])
            wanted[key] = float(row["dev_cents_A"])
    assert (len(rows), len(wanted)) == (252, 213)
    made = {
        (pitch, c.side, c.valves, c.partial): c.cents
        for pitch in range(41, 78)
        for c in candidates(horn, pitch)
    }
    assert made == pytest.approx(wanted, abs=0.06)


@given(st.sampled_from(NAMES), st.integers(20, 90), st.floats(-0.3, 0.3), st.booleans())
def test_every_candidate_sounds_the_note(name, pitch, off, stopped):
    """The frequency of the partial on the lengthened tube is within 60 cents of the note, and is
    what `cents` says."""
    instrument = load_instrument(name)
    instrument = retuned(instrument, {tube.side: off for tube in instrument.tubes})
    made = candidates(instrument, pitch, stopped=stopped)
    tubes = {tube.side: tube for tube in instrument.tubes}
    shortest = max(tube.fundamental for tube in instrument.tubes)
    for c in made:
        hz = c.partial * hz_of_midi(tubes[c.side].fundamental - c.drop)
        cents = 1200 * math.log2(hz / hz_of_midi(pitch - stopped))
        assert cents == pytest.approx(c.cents, abs=1e-6)
        assert abs(cents) <= 60
        assert c.length == pytest.approx(shortest - tubes[c.side].fundamental + c.drop)
        assert c.fingering == c.lever + c.valves + "+" * stopped
        assert c.lever == tubes[c.side].lever
    order = [(round(abs(c.cents), 6), round(c.length, 6)) for c in made]
    assert order == sorted(order)
    assert len({c.fingering for c in made}) == len(made)


def test_stopped_is_a_half_step_lower_on_the_f_side():
    """Horn Matters, "Stopped horn part I" (2012): one fingers a half step lower, on the F side."""
    horn = load_instrument("double-horn")
    open_b = {c.fingering: c for c in candidates(horn, midi_of_name("B4") - 7)}
    stopped_c = candidates(horn, midi_of_name("C5") - 7, stopped=True)
    assert {c.fingering for c in stopped_c} == {
        f"{name}+" for name, c in open_b.items() if c.side == "F"
    }
    assert all(c.side == "F" and c.lever == "" for c in stopped_c)
    assert chart_fingering(horn, midi_of_name("C5") - 7, stopped=True) == "2+"
    assert not candidates(load_instrument("trumpet"), 65, stopped=True)
    assert not candidates(load_instrument("horn-bb"), 65, stopped=True)
    assert candidates(load_instrument("horn-f"), 65, stopped=True)


def test_retuned_to_e():
    """With the F side in E the old F-side notes lie a half step lower, and the chart follows."""
    horn = load_instrument("double-horn")
    in_e = retuned(horn, {"F": -1})
    assert [tube.fundamental for tube in in_e.tubes] == [28, 34]
    assert found(in_e, "B3")["0"].partial == 4
    assert "0" not in found(in_e, "C4")
    assert chart_fingering(in_e, midi_of_name("G3") - 7) == "23"
    assert chart_fingering(in_e, midi_of_name("C5") - 7) == "T0"
    assert candidates(in_e, 65)[0].length == 0
    # The B-flat side pushed to B natural: open it gives written F#, and F has no near partial.
    in_b = retuned(horn, {"Bb": 1})
    assert found(in_b, "F#4")["T0"].partial == 4
    assert retuned(horn, {}) == horn
    assert found(retuned(horn, {"F": -0.2}), "C4")["0"].cents == pytest.approx(-20)
    with pytest.raises(ValueError, match="no side 'C'; there are: Bb, F"):
        retuned(horn, {"C": 1})


# Sounding pitch of the written middle C, horn by crook (Wikibooks, Horn/Technique/Transposition).
CROOKS = {"C alto": "C4", "Bb alto": "Bb3", "G": "G3", "F": "F3", "Eb": "Eb3", "D": "D3"}
CROOKS |= {"C": "C3", "Bb basso": "Bb2"}


@pytest.mark.parametrize("crook", CROOKS)
def test_crooks(crook):
    horn = crooked(load_instrument("natural-horn"), crook)
    sounding = midi_of_name(CROOKS[crook])
    assert sounding == midi_of_name("C4") + horn.transposition
    (only,) = candidates(horn, sounding)
    assert (only.partial, only.cents) == (4, pytest.approx(0, abs=1e-9))
    assert horn.lowest == sounding - 24


def test_no_such_crook():
    with pytest.raises(ValueError, match="no crook 'Bb'; there are: C alto, Bb alto"):
        crooked(load_instrument("natural-horn"), "Bb")


# Notes in the range that no fingering gives, by written name: below the second partial a single
# horn or a trombone has only its pedals, a horn without valves only the open series.
OUT_OF_REACH = {
    "horn-f": ["C#2", "D2", "Eb2", "E2", "F2"],
    "trombone": ["B1", "C2", "C#2", "D2", "Eb2"],
    "trombone-f": ["B1"],
}


@pytest.mark.parametrize("name", [name for name in NAMES if name != "natural-horn"])
def test_the_chart_covers_the_range(name):
    instrument = load_instrument(name)
    out = {midi_of_name(n) + instrument.transposition for n in OUT_OF_REACH.get(name, [])}
    for pitch in range(instrument.lowest, instrument.highest + 1):
        usual = chart_fingering(instrument, pitch)
        can = {c.fingering for c in candidates(instrument, pitch)}
        assert (usual is None) == (pitch in out) == (not can)
        assert usual is None or usual in can


STANDARD = [
    ("double-horn", "horn_double.csv"),
    ("trumpet", "trumpet_bflat_3valve.csv"),
    ("euphonium-4", "euphonium_4valve_noncompensating_concert.csv"),
    ("euphonium", "euphonium_4valve_compensating_low_derived.csv"),
    ("trombone", "trombone_tenor_positions_concert.csv"),
]


@pytest.mark.parametrize(("name", "file"), STANDARD)
def test_charts_are_as_published(shared_dir, name, file):
    instrument = load_instrument(name)
    wanted: dict[str, set[str]] = {}
    for row in rows_of(shared_dir, file):
        if row["status"].startswith("standard") and (row["written"], row["valves"]) not in BROKEN:
            lever = "T" if row["side"] == "Bb" else ""
            wanted.setdefault(row["written"], set()).add(lever + row["valves"])
    assert wanted
    for written, fingerings in wanted.items():
        pitch = midi_of_name(written) + instrument.transposition
        if instrument.reaches(pitch):
            assert chart_fingering(instrument, pitch) in fingerings, written


# First choices restated from the same charts for where the tables are not at hand.
FIRST = [
    ("double-horn", "C3 0 C#3 T23 F3 T0 F#3 2 G#3 23 C4 0 E4 0 G#4 23 A4 T12 C5 T0 F5 T0 D6 T1"),
    ("trumpet", "F#3 123 G3 13 A3 12 C#4 123 E4 12 C5 0 C#5 12 D5 1 E5 0 G#5 23 C6 0"),
    ("euphonium", "B1 1234 D2 124 Eb2 14 F2 4 G2 12 B2 24 C3 4 B3 12 D4 0 F#4 23 Bb4 0"),
    ("euphonium-4", "D2 234 Eb2 124 E2 24 F2 4 B2 24"),
    ("trombone", "E2 7 F2 6 B2 7 C3 6 F3 1 F#3 5 D4 1 Eb4 3 F#4 3 B4 4 F5 1 Bb1 1"),
]


@pytest.mark.parametrize(("name", "first"), FIRST)
def test_first_choices(name, first):
    instrument, words = load_instrument(name), first.split()
    for written, fingering in zip(words[::2], words[1::2], strict=True):
        pitch = midi_of_name(written) + instrument.transposition
        assert chart_fingering(instrument, pitch) == fingering, written


@pytest.mark.parametrize("name", ["trumpet", "euphonium", "euphonium-3", "euphonium-4", "cornet"])
def test_the_rule_gives_the_published_first_choices(name):
    instrument = load_instrument(name)
    bare = replace(instrument, chart=())
    assert instrument.chart
    for pitch, fingering in instrument.chart:
        assert chart_fingering(bare, pitch) == fingering


def test_an_instrument_without_tubes():
    bare = Instrument("x", "x", 0, 40, 80)
    assert candidates(bare, 60) == ()
    assert chart_fingering(bare, 60) is None
