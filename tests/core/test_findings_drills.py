"""The drill for a finding: pieces of the passage that hold what was found."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from coach.cli.next import in_one
from coach.core.exercise import Drill
from coach.core.findings import Finding, drill_for
from coach.core.passage import Passage, in_a_row
from coach.core.pitch import name_of_midi
from coach.files.configs import load_instrument
from coach.files.drillfile import read_drill
from coach.files.drillwrite import Heading, drill_text, meter_of
from tests.core.findings_making import line

NOTES = {
    "one note": (5,),
    "pitch": (4, 12),
    "exchange of fingers": (3, 11),
    "side change": (3, 6),
    "leap": (2, 9),
    "back syllable": tuple(range(1, 16, 2)),
    "register": (3, 4, 5),
    "off-beat": (1, 2, 3, 5, 6, 7),
    "second half": tuple(range(8, 16)),
    "rushing": tuple(range(16)),
    "dragging": tuple(range(16)),
}


def drill(kind: str, passage: Passage | None = None, notes: tuple[int, ...] = ()) -> Drill:
    played = passage or line()
    finding = Finding(kind, "It is so.", 0.01, 3, 4, played, notes or NOTES[kind])
    return drill_for(finding, Drill("run", "Run", "", (played,), 60, 120))


@pytest.mark.parametrize("kind", NOTES)
def test_every_kind_has_its_drill_and_leads_back_to_the_passage(kind):
    made = drill(kind)
    assert made.variants[-1] == line()
    assert len(made.variants) > 1
    assert (made.name, made.about) == ("run-next", "It is so.")
    assert {n.pitch for p in made.variants for n in p.notes} <= {n.pitch for n in line().notes}


def test_an_exchange_is_slurred_then_tongued_alone_and_then_in_its_place():
    alone, tongued, place, in_place, *_ = drill("exchange of fingers").variants
    assert [n.pitch for n in alone.notes] == [69, 70] * 4 + [69]
    assert [n.fingering for n in alone.notes[:2]] == ["T2", "T1"]
    assert [n.slurred for n in alone.notes] == [False] + [True] * 8
    assert not any(n.slurred for n in tongued.notes)
    assert [n.pitch for n in place.notes] == [65, 67, 69, 70, 72, 70]
    assert [n.slurred for n in place.notes] == [False] + [True] * 5
    assert not any(n.slurred for n in in_place.notes)


def test_the_thumb_alone_is_drilled_too():
    notes = line().notes
    moved = replace(line(), notes=(notes[0], replace(notes[1], fingering="0"), *notes[2:]))
    alone = drill("side change", moved).variants[4]
    assert {n.pitch for n in alone.notes} == {notes[5].pitch, notes[6].pitch}


@pytest.mark.parametrize(("syllables", "alone"), [(["ta", "ka"], "ka"), (["da", "da", "ga"], "ga")])
def test_the_back_syllable_alone_then_on_the_beat_then_as_it_is_played(syllables, alone):
    pairs = enumerate(line().notes)
    spoken = tuple(replace(n, syllable=syllables[k % len(syllables)]) for k, n in pairs)
    back = tuple(k for k, n in enumerate(spoken) if n.syllable == alone)
    made = drill("back syllable", replace(line(), notes=spoken), back).variants
    assert len(made) == 5
    assert {n.syllable for n in made[0].notes} == {alone}
    assert made[1].notes[0].syllable == alone
    assert made[1].notes[0].length_beats > made[1].notes[1].length_beats
    assert [n.syllable for n in made[3].notes[: len(syllables)]] == syllables


def test_the_second_half_grows_from_the_end():
    *steps, whole = drill("second half").variants
    sizes = [len(p.notes) for p in steps]
    assert sizes == sorted(sizes)
    assert sizes[-1] == 8
    assert all(p.notes[-1].pitch == whole.notes[-1].pitch for p in steps)


def test_long_tones_for_the_register_then_slurs_into_it():
    tones, *slurs, _ = drill("register").variants
    assert [(n.pitch, n.start_beats, n.length_beats) for n in tones.notes] == [
        (70, 0, 3),
        (72, 4, 3),
    ]
    assert all(n.slurred for p in slurs for n in p.notes[1:])


def test_the_click_helps_who_rushes_and_who_drags():
    assert drill("rushing").click.off_bars == (1, 1)
    assert drill("dragging").click.subdivision == 2
    assert drill("leap").click == Drill("", "", "", ()).click


def test_passages_of_different_meters_in_one():
    """Each begins on a bar line of its own meter, after a bar of rest."""
    waltz = Passage(in_a_row([60, 62, 64] * 2, Fraction(1)), bar_beats=Fraction(3))
    common = Passage(in_a_row([60, 62, 64, 65, 67], Fraction(1)))
    both = in_one([common, waltz, common])
    starts = [(change.start_beats, change.bar_beats) for change in both.changes]
    assert starts == [(12, 3), (21, 4)]
    assert [n.start_beats for n in both.notes][5:7] == [12, 13]
    assert both.notes[11].start_beats == 21


def test_a_long_passage_is_not_repeated():
    passage = Passage(in_a_row([60, 62, 64, 62] * 80, Fraction(1, 2)))
    finding = Finding("second half", "", 0.01, 3, 4, passage, tuple(range(160, 320)))
    made = drill_for(finding, Drill("run", "Run", "", (passage,)))
    assert len(made.variants) <= 7
    assert passage not in made.variants


@pytest.mark.parametrize("kind", NOTES)
def test_it_can_be_written_and_read(tmp_path: Path, kind):
    made, horn = drill(kind), load_instrument("double-horn")
    whole = in_one(made.variants)
    sheet = Heading(made.title, made.about, meter_of(whole), "C", 60, 120, made.click)
    path = tmp_path / "made.toml"
    path.write_text(drill_text(whole, horn, sheet))
    read, _ = read_drill(path)
    assert read.variants[0].notes == whole.notes
    assert read.click == made.click


@pytest.mark.parametrize(
    ("bar", "pulse", "meter"),
    [
        ("4", "1", "4/4"),
        ("3", "1", "3/4"),
        ("3", "3/2", "6/8"),
        ("4", "2", "2/2"),
        ("7/2", "1/2", "7/8"),
    ],
)
def test_meters_in_words(bar, pulse, meter):
    assert meter_of(Passage((), "", Fraction(bar), Fraction(pulse))) == meter


@pytest.mark.parametrize("kind", NOTES)
def test_what_is_played_is_named_by_its_place_not_by_a_sounding_pitch(kind):
    """The passage sounds; a horn player reads it a fifth higher."""
    sounding = {name_of_midi(n.pitch, line().fifths) for n in line().notes}
    for variant in drill(kind).variants:
        assert not sounding & set(re.findall(r"[A-G][b#]?\d", variant.title)), variant.title
