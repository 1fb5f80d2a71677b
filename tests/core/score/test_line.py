"""A line out of a score: bars by number, voices, ties, slurs, crooks, changes; and as a passage.

What horn players know of crooks and of the old way to write bass clef is common practice, no
source; transpositions are those of the handbook tables in the instruments' files.
"""

from fractions import Fraction

import pytest

from coach.core.passage import MeterChange
from coach.core.score.choose import Choice, Reading, line_of, part_of
from coach.core.score.model import Meter, Part, PartBar, Score, Signs
from coach.core.score.practise import passage_of, tempo_of
from coach.core.score.told import line_dict
from coach.errors import CoachError
from coach.files.configs import load_instrument
from tests.core.score.making import bar, head, score

HORN = load_instrument("double-horn")


def played(made, bars=None, **reading):
    line = line_of(made, made.parts[0], bars, Reading(**reading))
    return [(n.written.name, n.onset, n.length) for n in line.notes]


def four(*names, **more):
    return bar(*(head(name, k, 1, **more) for k, name in enumerate(names)))


def line_for(made, bars=None, **reading):
    return line_of(made, made.parts[0], bars, Reading(**reading))


class TestBars:
    def test_by_printed_numbers_from_the_start_of_the_selection(self):
        made = score(four("C4"), four("D4"), four("E4"), numbers=["7", "8", "9"])
        line = line_for(made, "8-9")
        assert [(n.bar, n.onset, n.beat) for n in line.notes] == [("8", 0, 1), ("9", 4, 1)]

    def test_one_bar_and_an_open_end(self):
        made = score(four("C4"), four("D4"), four("E4"))
        assert played(made, "2") == [("D4", 0, 1)]
        assert [name for name, _, _ in played(made, "2-")] == ["D4", "E4"]

    @pytest.mark.parametrize(
        ("wanted", "said"),
        [
            ("9", "there is no bar 9; the bars are 1 to 3"),
            ("3-2", "bars 3-2 run backwards"),
            ("x", "no bar x"),
            ("-2", "there is no bar -2"),
        ],
    )
    def test_bars_that_are_not_there(self, wanted, said):
        with pytest.raises(CoachError, match=said):
            played(score(four("C4"), four("D4"), four("E4")), wanted)

    def test_a_pick_up_is_the_end_of_its_bar(self):
        made = score(
            bar(head("G4", 0, 1)), four("C5"), lengths=[1, 4], numbers=["0", "1"], implicit=[0]
        )
        line = line_for(made)
        assert [(n.beat, n.onset) for n in line.notes] == [(4, 0), (1, 1)]
        assert played(made, "0") == [("G4", 0, 1)]

    def test_the_second_half_of_a_split_bar_goes_with_the_first(self):
        made = score(
            bar(head("C4", 0, 3)),
            bar(head("D4", 0, 1)),
            four("E4"),
            lengths=[3, 1, 4],
            numbers=["1", "X1", "2"],
            implicit=[1],
        )
        assert played(made, "1") == [("C4", 0, 3), ("D4", 3, 1)]
        assert [n.beat for n in line_for(made, "1").notes] == [1, 4]


class TestVoices:
    UPPER = (head("E5", 0, 2, voice="1"), head("F5", 2, 2, voice="1"))
    LOWER = (head("C5", 0, 4, voice="2"),)
    BOTH = score(bar(*UPPER, *LOWER))

    def test_top_bottom_and_by_name(self):
        assert played(self.BOTH) == [("E5", 0, 2), ("F5", 2, 2)]
        assert played(self.BOTH, divisi="bottom") == [("C5", 0, 4)]
        assert played(self.BOTH, divisi="2") == [("C5", 0, 4)]

    def test_of_a_chord_the_top_or_the_bottom(self):
        made = score(bar(head("C4", 0, 4), head("G4", 0, 4), head("E4", 0, 4)))
        assert played(made) == [("G4", 0, 4)]
        assert played(made, divisi="bottom") == [("C4", 0, 4)]

    def test_a_player_who_rests_does_not_take_over_the_others_notes(self):
        rests = bar(head("C4", 0, 4, voice="2"), voices=((1, "1"), (1, "2")))
        made = score(bar(*self.UPPER, *self.LOWER), rests)
        assert played(made) == [("E5", 0, 2), ("F5", 2, 2)]
        assert played(made, divisi="bottom") == [("C5", 0, 4), ("C4", 4, 4)]

    def test_a_voice_that_is_not_there(self):
        with pytest.raises(CoachError, match="no notes in a voice"):
            played(self.BOTH, divisi="7")

    def test_a_note_ends_where_the_next_begins(self):
        made = score(bar(head("C4", 0, 4), head("D4", 1, 1)))
        assert played(made) == [("C4", 0, 1), ("D4", 1, 1)]


class TestTiesAndSlurs:
    def test_ties_are_joined_over_bar_lines(self):
        made = score(bar(head("C4", 3, 1, tied_on=True)), bar(head("C4", 0, 2, tied_back=True)))
        [note] = line_for(made).notes
        assert (note.onset, note.length, note.tied, note.bar) == (3, 3, True, "1")

    def test_a_tie_joins_the_same_pitch_only(self):
        made = score(bar(head("C4", 0, 1, tied_on=True), head("D4", 1, 1)))
        assert played(made) == [("C4", 0, 1), ("D4", 1, 1)]

    def test_a_tie_into_a_second_ending(self):
        signs = [
            Signs(),
            Signs(plays=2, endings=frozenset({1})),
            Signs(endings=frozenset({2})),
        ]
        tied = head("C4", 0, 4, tied_back=True)
        made = score(bar(head("C4", 0, 4, tied_on=True)), bar(tied), bar(tied), signs=signs)
        assert played(made) == [("C4", 0, 8), ("C4", 8, 8)]

    def test_slurs_need_another_pitch_right_before(self):
        slurred = {"slurred": True}
        made = score(
            bar(
                head("C4", 0, 1),
                head("D4", 1, 1, **slurred),
                head("D4", 2, "1/2", **slurred),
                head("E4", 3, 1, **slurred),
            )
        )
        assert [n.slurred for n in line_for(made).notes] == [False, True, False, False]

    def test_dots_under_a_slur_are_tongued_but_its_last_dotted_note_is_not(self):
        dots = {"marks": frozenset({"staccato"})}
        soft = bar(*(head(n, k, 1, slurred=k > 0, **dots) for k, n in enumerate(["C4", "D4"])))
        two = bar(head("C4", 0, 1), head("D4", 1, 1, slurred=True, **dots))
        line = line_for(score(soft, two))
        assert [n.slurred for n in line.notes] == [False, False, False, True]

    def test_a_jump_back_begins_with_the_tongue(self):
        made = score(
            bar(head("C4", 0, 4, slurred=True), voices=((1, "1"),)),
            bar(head("D4", 0, 4, slurred=True)),
            signs=[Signs(), Signs(plays=2)],
        )
        assert [n.slurred for n in line_for(made).notes] == [False, True, False, True]

    def test_grace_notes_are_kept_apart(self):
        made = score(
            bar(head("C4", 0, 2), head("E4", 2, 0, grace=True), head("D4", 2, 2, slurred=True))
        )
        line = line_for(made)
        assert [(n.written.name, n.grace, n.onset) for n in line.notes] == [
            ("C4", False, 0),
            ("E4", True, 2),
            ("D4", False, 2),
        ]
        # Without the grace note it is the main note that takes the tongue.
        assert [n.slurred for n in passage_of(line, HORN).notes] == [False, False]


class TestTransposition:
    def test_the_files_own(self):
        [note] = line_for(score(bar(head("C5", 0, 4, transposition=-10)))).notes
        assert (note.written.name, note.sounding) == ("C5", 62)

    def test_a_crook_in_its_place(self):
        made = score(bar(head("C5", 0, 4, transposition=-10)))
        assert line_for(made, crook=-9).notes[0].sounding == 63

    def test_old_notation_in_bass_clef_is_an_octave_higher(self):
        made = score(bar(head("C3", 0, 2, clef="F"), head("C5", 2, 2, clef="G")))
        line = line_for(made, crook=-7, old_bass_clef=True)
        assert [n.sounding for n in line.notes] == [53, 65]

    def test_the_passage_is_spelled_for_the_player(self):
        made = score(bar(head("G4", 0, 4, transposition=-10), keys=((Fraction(0), 0),)))
        line = line_for(made)
        passage = passage_of(line, HORN)
        # C major on a D horn sounds in D, which a horn in F reads in A.
        assert (passage.notes[0].pitch, passage.fifths) == (57, 3)


class TestChanges:
    def test_keys_and_tempi_in_force_come_along_and_come_back(self):
        tempos = [((Fraction(0), 100.0),), ((Fraction(2), 80.0),), ()]
        made = score(
            bar(head("C4", 0, 4), keys=((Fraction(0), -3),)),
            bar(head("C4", 0, 4)),
            bar(head("C4", 0, 4), keys=((Fraction(0), 2),)),
            signs=[Signs(), Signs(), Signs(jump="capo")],
            tempos=tempos,
        )
        line = line_for(made)
        assert line.keys == ((0, -3), (8, 2), (12, -3), (20, 2))
        assert line.tempos == ((0, 100), (6, 80), (12, 100), (18, 80))
        assert line_for(made, "2").tempos == ((0, 100), (2, 80))
        assert line_for(made, "3").keys == ((0, 2),)

    def test_a_change_of_meter_in_the_passage(self):
        common, waltz = Meter(), Meter((3,), 4)
        made = score(four("C4"), bar(head("D4", 0, 3)), lengths=[4, 3])
        frames = (made.frames[0], _with(made.frames[1], waltz))
        line = line_for(Score("", made.parts, frames))
        assert line.meters == ((0, common), (4, waltz))
        change = MeterChange(Fraction(4), Fraction(3), Fraction(1))
        assert passage_of(line, HORN).changes == (change,)

    def test_a_pick_up_stands_at_the_end_of_a_whole_bar(self):
        made = score(bar(head("G4", 0, 1)), four("C5"), lengths=[1, 4], implicit=[0])
        passage = passage_of(line_for(made), HORN)
        assert [n.start_beats for n in passage.notes] == [3, 4]
        assert (passage.bar_beats, passage.changes) == (4, ())

    def test_a_short_last_bar_and_the_pick_up_make_one_bar(self):
        signs = [Signs(forward=True), Signs(), Signs(plays=2)]
        made = score(
            bar(head("G4", 0, 1)),
            four("C5", "D5", "E5", "F5"),
            bar(head("C5", 0, 3)),
            signs=signs,
            lengths=[1, 4, 3],
            implicit=[0],
        )
        passage = passage_of(line_for(made), HORN)
        assert passage.changes == ()
        assert [n.start_beats for n in passage.notes] == [3, 4, 5, 6, 7, 8, 11, 12, 13, 14, 15, 16]

    def test_the_marked_tempo_in_clicks(self):
        made = score(bar(head("C4", 0, 3)), lengths=[3], meter=Meter((6,), 8))
        line = line_for(made)
        passage = passage_of(line, HORN)
        assert tempo_of(line, passage) == 80  # 120 quarters: 80 dotted quarters
        marked = score(bar(head("C4", 0, 4)), tempos=[((Fraction(0), 96.0),)])
        assert tempo_of(line_for(marked), passage_of(line_for(marked), HORN)) == 96


class TestPassage:
    def test_bars_keep_their_printed_numbers_unless_a_jump_is_played_out(self):
        made = score(four("C4"), four("D4"), four("E4"))
        assert passage_of(line_for(made, "2-3"), HORN).first_bar == 2
        repeated = score(four("C4"), four("D4"), signs=[Signs(), Signs(forward=True, plays=2)])
        assert passage_of(line_for(repeated, "2"), HORN).first_bar == 1

    def test_marks_syllables_and_fingerings_come_along(self):
        one = head("C5", 0, 1, marks=frozenset({"accent"}), fingering="T12", syllable="ta")
        other = head("D5", 1, 1, fingering="8")
        first, second = passage_of(line_for(score(bar(one, other))), HORN).notes
        assert (first.accent, first.fingering, first.syllable) == (True, "T12", "ta")
        assert second.fingering is None

    def test_no_notes(self):
        with pytest.raises(CoachError, match="no notes in these bars"):
            passage_of(line_for(score(bar(), bar())), HORN)


class TestParts:
    PARTS = Score("", tuple(Part(name, ()) for name in ("Horn in F 1", "Horn in F 2", "Oboe")), ())

    def test_by_name_piece_of_it_or_number(self):
        assert part_of(self.PARTS, "horn in f 2").name == "Horn in F 2"
        assert part_of(self.PARTS, "obo").name == "Oboe"
        assert part_of(self.PARTS, "3").name == "Oboe"

    @pytest.mark.parametrize(
        ("wanted", "said"),
        [
            ("horn", r"several parts are called \"horn\"; choose from 1 \(Horn in F 1\), 2"),
            ("Tuba", r"there is no part \"Tuba\"; choose from 1 \(Horn in F 1\)"),
            ("4", "there is no part"),
            (None, "it has 3 parts; choose one with --part"),
        ],
    )
    def test_what_is_not_there_or_not_clear(self, wanted, said):
        with pytest.raises(CoachError, match=said):
            part_of(self.PARTS, wanted)


def test_as_json():
    made = score(bar(head("F#4", "1/2", "1/3", transposition=-7, slurred=True)), numbers=["12"])
    told = line_dict(line_for(made), "double-horn")
    [note] = told["notes"]
    assert {k: note[k] for k in ("bar", "beat", "onset_beats", "duration_beats")} == {
        "bar": 12,
        "beat": "3/2",
        "onset_beats": "1/2",
        "duration_beats": "1/3",
    }
    assert (note["midi"], note["written"], note["slurred"]) == (59, "F#4", False)
    assert (note["grace"], note["tied"], note["fingering"]) == (False, False, None)
    assert told["meter_changes"] == [{"onset_beats": "0", "meter": "4/4"}]
    assert told["instrument"] == "double-horn"


def test_a_choice_of_nothing_is_all():
    assert Choice() == Choice(None, None, Reading("top", None, False))


def _with(frame, meter):
    from dataclasses import replace

    return replace(frame, meter=meter)


def test_a_part_has_all_bars():
    with pytest.raises(ValueError, match="1 of 2 bars"):
        Score("", (Part("x", (PartBar(),)),), score(bar(), bar()).frames)
