"""Syllables, registers, strokes and finger moves of simulated players."""

from __future__ import annotations

from coach.core.profile.profile import profile_of
from coach.core.profile.tally import Tally
from coach.core.progress.fingers import fingers_of, fingers_words
from coach.core.progress.sorts import (
    limits_of,
    limits_words,
    registers_of,
    registers_words,
    syllables_of,
    syllables_words,
)

DAY = 739_000


def tally(kind, name, count, clean_share, mean=0.0, sd=2.0):
    """`count` notes, whose values have that mean and spread."""
    squares = count * (mean * mean + sd * sd)
    clean = round(count * clean_share)
    return Tally(kind, name, DAY, count, clean, count, count * mean, squares)


def profile(*tallies):
    return profile_of(tallies, DAY)


def notes(count=400, share=0.9):
    return tally("articulation", "tongued", count, share)


def syllables(front_db, back_db, back_share, count=200):
    return profile(
        notes(),
        tally("syllable", "front", count, 0.95, front_db),
        tally("syllable", "back", count, back_share, back_db),
    )


def test_a_back_syllable_that_is_softer_and_less_clean():
    words = syllables_words(syllables(1.0, -2.0, 0.75))
    assert words.startswith("No: the back syllable is 3.0 dB softer (")
    assert "less often clean (by 20 notes in a hundred)" in words


def test_syllables_that_are_alike_and_those_nobody_played():
    assert syllables_words(syllables(0.2, -0.2, 0.95)).startswith("Yes, as far as can be told")
    assert syllables_words(profile(notes())) == "Too few notes with both syllables to tell."
    assert syllables_of(profile(notes())).values == ()
    few = syllables_of(syllables(0.0, 0.0, 1.0, count=1))
    assert [row.tells for row in few.clean] == [False, False]


def test_the_register_that_goes_worst():
    made = profile(
        notes(),
        tally("register", "low", 200, 0.7, 14.0, 8.0),
        tally("register", "middle", 200, 0.95),
    )
    words = registers_words(registers_of(made))
    assert words == "The low register: 70 % clean, middle 95 %, and it comes 14 ms late."
    assert [row.name for row in registers_of(made).clean] == ["middle", "low"]
    alike = profile(notes(), *(tally("register", n, 90, 0.9) for n in ("low", "middle")))
    assert registers_words(registers_of(alike)).startswith("No register surely")


def test_limits_of_the_strokes_played():
    bins = [tally("rate", f"double {hz}-{hz + 0.5}", 300, 0.97, hz) for hz in (8.0, 9.0)]
    bins += [tally("rate", "double 10-10.5", 300, 0.6, 10.2)]
    made = profile(notes(), *bins)
    assert [row.name for row in limits_of(made)] == ["double"]
    assert limits_words(limits_of(made)).startswith("Double 9.")
    assert limits_words(()).startswith("No row of notes was quick enough")


def test_finger_moves_by_what_goes_up_and_down():
    made = profile(
        notes(),
        tally("move", "1>3", 60, 0.8, 25.0, 6.0),
        tally("move", "12>", 60, 0.9, 2.0, 6.0),
        tally("move", ">2", 1, 1.0, 60.0, 6.0),
        tally("move", "> T down", 40, 0.9, 12.0, 6.0),
    )
    fingers = fingers_of(made)
    assert fingers.ups == ("", "1", "12")
    assert fingers.downs == ("", "2", "3")
    assert fingers.cells["1", "3"].shade == 3
    assert not fingers.cells["", "2"].sure
    assert [cell.move.thumb for cell in fingers.thumbs] == ["T down"]
    assert fingers_words(fingers).startswith("Slowest is 1 up and 3 down: the valves come 25 ms")


def test_no_move_is_slow_or_none_is_known():
    quick = profile(notes(), tally("move", "1>3", 60, 0.9, 1.0, 6.0))
    assert fingers_words(fingers_of(quick)) == "None: no move surely comes late."
    assert fingers_words(fingers_of(profile(notes()))) == "Too few moves were heard to tell."
