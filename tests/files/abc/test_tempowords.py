"""Words of tempo in ABC: annotations over the notes, and Q: with text."""

from __future__ import annotations

from tests.files.abc.making import heads, read, tune


def words_of(score) -> list:
    return [frame.tempo_words for frame in score.frames]


def test_annotations_and_tempo_fields_at_their_places():
    score = read(
        tune('"Am"C4 "^poco rit."C4 | "_dolce""@2,5 molto rit."[CE]8 | [Q:"a tempo"]C8 | '
             '[Q:"Adagio" 1/4=50]C8', more='Q:"Allegro" 1/4=120\n')
    )  # fmt: skip
    assert words_of(score) == [
        ((0, "Allegro"), (2, "poco rit.")),
        ((0, "2,5 molto rit."),),
        ((0, "a tempo"),),
        ((0, "Adagio"),),
    ]
    assert [frame.tempos for frame in score.frames] == [((0, 120),), (), (), ((0, 50),)]


def test_voices_say_it_once_and_notes_are_as_without():
    plain = "V:1\nC4 C4|C8\nV:2\nE4 E4|E8 & G4 G4\n"
    worded = 'V:1\nC4 "^rit."C4|C8\nV:2\nE4 "^ritard."E4|E8 & G4 "^a tempo" G4\n'
    score = read(tune(worded))
    assert words_of(score) == [((2, "rit."),), ((2, "a tempo"),)]
    assert [heads(score, k) for k in (0, 1)] == [heads(read(tune(plain)), k) for k in (0, 1)]


def test_a_fingering_is_none_and_a_broken_rhythm_goes_on():
    score = read(tune('"^T12"C>"^rit."C "^rit."!accent!E6'))
    assert [head.length for head in heads(score)][:2] == [0.75, 0.25]
    assert heads(score)[0].fingering == "T12"
    assert heads(score)[2].marks == {"accent"}


def test_double_bars_and_repeats():
    score = read(tune("C8 | C8 || C8 | C8 :| C8 |]"))
    assert [frame.double_bar for frame in score.frames] == [False, True, False, True, False]
