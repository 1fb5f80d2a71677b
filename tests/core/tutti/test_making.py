"""The ensemble out of a score: who sounds what, when; lead-in, tempo marks, fermatas."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from coach.core.score.choose import Choice
from coach.core.score.model import Part, Signs
from coach.core.score.practise import passage_of
from coach.core.tutti.ensemble import Sounded
from coach.core.tutti.making import excerpt_of
from coach.core.tutti.programs import program_of
from coach.core.warp import Warp
from coach.errors import CoachError
from coach.files.configs import load_instrument
from tests.core.score.making import bar, head, score
from tests.core.tutti.simulated import sounding_at

F = Fraction
# The oracle's movement: bars before the first repeat sign, and parts with chords and ties.
MOVEMENT, BARS, PARTS = "Beethoven_Op.55_1.mxl", 60, ("Violin 2", "Eb Horn 1")


def two_parts(horn, basses, **more):
    """Four bars of 4/4: a horn and basses beneath it."""
    made = score(*horn, **more)
    return replace(made, parts=(made.parts[0], Part("Contrabass", tuple(basses))))


WHOLE = bar(head("C4", 0, 4))
FOUR = two_parts([WHOLE] * 4, [bar(head("C2", 0, 2), head("G2", 2, 2))] * 4)


def test_all_parts_sound_and_the_own_one_rests_in_the_lead_in():
    excerpt = excerpt_of(FOUR, Choice("Horn", "3-4"), 1)
    ensemble = excerpt.ensemble
    assert (ensemble.own, ensemble.others) == (0, (1,))
    assert ensemble.length_beats == 12
    assert excerpt.entry == "3"
    assert [note.onset for note in excerpt.line.notes] == [4, 8]
    horn, basses = ensemble.voices
    assert [note.start_beats for note in horn.notes] == [0, 4, 8]
    assert [note.pitch for note in basses.notes] == [36, 43] * 3
    passage = passage_of(excerpt.line, load_instrument("double-horn"))
    assert [note.start_beats for note in passage.notes] == [4, 8]
    assert passage.first_bar == 2
    assert {v: n.pitch for v, n in sounding_at(ensemble.voices, F(6))} == {0: 60, 1: 43}


def test_a_lead_in_is_no_longer_than_what_there_is():
    excerpt = excerpt_of(FOUR, Choice("Horn", "1-2"), 8)
    assert (excerpt.line.notes[0].onset, excerpt.ensemble.length_beats) == (0, 8)


def test_ties_chords_and_players_on_one_pitch():
    horn = [
        bar(head("C4", 0, 4, tied_on=True), head("E4", 0, 4), head("E4", 0, 2, voice="2")),
        bar(head("C4", 0, 1, tied_back=True), head("C4", 1, 3), head("D4", 0, 0, grace=True)),
    ]
    (voice, _) = excerpt_of(two_parts(horn, [bar(), bar()]), Choice("1"), 0).ensemble.voices
    assert sorted((n.start_beats, n.length_beats, n.pitch) for n in voice.notes) == [
        (0, 4, 64),
        (0, 5, 60),
        (5, 3, 60),
    ]


def test_tempo_marks_are_shares_of_the_first_and_repeats_bring_them_back():
    marks = [((F(0), 120.0),), ((F(2), 90.0),), (), ()]
    signs = [Signs(), Signs(plays=2), Signs(), Signs()]
    made = two_parts([WHOLE] * 4, [WHOLE] * 4, tempos=marks, signs=signs)
    ensemble = excerpt_of(made, Choice("Horn"), 0).ensemble
    assert ensemble.length_beats == 24
    assert ensemble.warp == Warp(((F(0), F(1)), (F(6), F(3, 4)), (F(8), F(1)), (F(14), F(3, 4))))


def test_a_fermata_in_any_part_holds_everybody_once():
    hold = {"marks": frozenset({"fermata"})}
    horn = [bar(head("C4", 0, 4)), bar(head("C4", 0, 2), head("D4", 2, 2, **hold)), WHOLE, WHOLE]
    basses = [WHOLE, bar(head("C2", 0, 4, **hold)), WHOLE, WHOLE]
    warp = excerpt_of(two_parts(horn, basses), Choice("Horn"), 0).ensemble.warp
    assert warp == Warp(((F(0), F(1)),), ((F(6), F(2)),))
    assert warp.even(F(6)) == 6
    assert warp.even(F(8)) == 10


def test_bars_in_which_the_player_rests():
    made = two_parts([bar(), WHOLE], [WHOLE, WHOLE])
    with pytest.raises(CoachError, match="no notes in these bars"):
        excerpt_of(made, Choice("Horn", "1"), 1)


@pytest.mark.parametrize(
    ("name", "sound", "program"),
    [
        ("Corno 1 in F", "", 60),
        ("Englisches Horn", "program 69", 69),
        ("Contrabassoon", "", 70),
        ("Contrabass", "strings.contrabass", 43),
        ("Violoncello", "", 42),
        ("Violino II", "", 40),
        ("Bass Trombone", "", 57),
        ("Part 3", "wind.flutes.flute", 73),
        ("Part 3", "", 48),
    ],
)
def test_the_sound_of_a_part(name, sound, program):
    """General MIDI Level 1 sound set, numbered from 0."""
    assert program_of(name, sound) == program


@pytest.mark.shared
def test_every_note_is_where_music21_has_it(shared_dir):
    from coach.files.scorefile import read_score
    from tests.oracle import by_music21

    path = shared_dir / "scores" / "orchestra" / MOVEMENT
    xml = by_music21.score_xml(path)
    names = dict(by_music21.part_ids(xml))
    ids = [number for number, name in names.items() if name in PARTS]
    text = by_music21.first_bars(by_music21.only_parts(xml, ids), BARS)
    made = excerpt_of(read_score(path), Choice(PARTS[0], f"1-{BARS}"), 0).ensemble
    voices = {voice.name: voice for voice in made.voices}
    for number, part in zip(ids, by_music21.all_printed(text), strict=True):
        ours = {_told(note) for note in voices[names[number]].notes}
        theirs = set(part)
        assert len(theirs) > BARS
        # Of a chord, music21 joins a tie only if all its notes are tied.
        for start, length, pitch in ours - theirs:
            pieces = {n for n in theirs if n[2] == pitch and start <= n[0] < start + length}
            assert sum(piece[1] for piece in pieces) == length
            theirs -= pieces
            ours.remove((start, length, pitch))
        assert ours == theirs


def _told(note: Sounded) -> tuple[Fraction, Fraction, int]:
    return note.start_beats, note.length_beats, note.pitch
