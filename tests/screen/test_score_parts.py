"""The parts of a score and the hard places of one, on 80 columns."""

from __future__ import annotations

import io
from dataclasses import replace
from fractions import Fraction

from rich.console import Console

from coach.core.score.hard import hard_places
from coach.core.score.hardness import Hardness
from coach.core.score.overview import overview
from coach.core.score.runs import Run
from coach.files.configs import load_instrument
from coach.files.fingering import load_weights
from coach.screen.score_parts import UNMARKED, key_name, parts_table, places_list, run_words
from tests.core.score.linemaking import even, line

RUN = even([60, 62, 64, 65, 67, 65, 64, 62] * 2, Fraction(1, 4))
REST = even([None], 4)
HORN = overview(line(RUN, REST, keys=((0, -2),), transposition=-9, part="Horn in Eb"))
FLUTE = overview(line(RUN, REST, transposition=0, part="Flute"))


def drawn(renderable, width: int = 80) -> list[str]:
    out = io.StringIO()
    Console(file=out, width=width, color_system=None).print(renderable)
    return [text.rstrip() for text in out.getvalue().splitlines()]


def test_a_row_tells_what_a_part_is():
    rows = drawn(parts_table("Invented", [FLUTE, HORN]))
    assert rows[0] == "  Invented, bars 1-2"
    (row,) = [text for text in rows if "Horn in Eb" in text]
    assert row.split() == [
        "2", "●", "Horn", "in", "Eb", "Eb", "Bb", "C4", "G4", "16", "bar", "1:", "8.0,", "tongued",
    ]  # fmt: skip


def test_only_brass_is_marked_and_only_it_has_a_crook():
    (row,) = [text for text in drawn(parts_table("", [FLUTE])) if "Flute" in text]
    assert row.split()[:4] == ["1", "Flute", "C", "C4"]


def test_a_missing_tempo_is_said():
    unmarked = overview(line(RUN, tempos=(), part="Horn"))
    assert any(UNMARKED in text for text in drawn(parts_table("", [unmarked])))
    assert not any(UNMARKED in text for text in drawn(parts_table("", [HORN])))


def test_nothing_is_wider_than_the_window_and_names_move_no_cursor():
    long = replace(HORN, part="Horn \x1b[2J in a far too long name for any table of parts")
    for width in (80, 60):
        rows = drawn(parts_table("Invented [bold]", [long, FLUTE] * 4), width)
        assert max(len(text) for text in rows) <= width
        assert not any("\x1b" in text for text in rows)
    assert "[bold]" in rows[0]


def test_parts_without_notes_and_no_parts():
    empty = overview(line(REST, part="Tuba"))
    assert any("Tuba" in text for text in drawn(parts_table("", [empty])))
    assert drawn(parts_table("", []))[0] == "  no parts"


def test_a_run_in_words():
    run = Run("41", "44", 30, 30, 12.345, True)
    assert run_words(run) == "bars 41-44: 12.3, tongued"
    assert run_words(replace(run, tongued=1, last="41")) == "bar 41: 12.3, slurred"
    assert run_words(replace(run, tongued=12)) == "bars 41-44: 12.3, 12/30 tongued"


def test_keys_by_the_circle_of_fifths():
    assert [key_name(fifths) for fifths in (-3, 0, 1, 7, -7)] == ["Eb", "C", "G", "C#", "Cb"]
    assert key_name(9) == "9 sharps"


def found(*bars):
    horn = load_instrument("double-horn")
    return hard_places(line(*bars), horn, load_weights(), Hardness())


def test_places_say_why_and_how_to_practise_them():
    places = found(REST, RUN, REST, RUN)
    command = "coach drill score.mxl --part 1 --bars 2"
    rows = drawn(places_list("Horn: hard places", places, {"2": command}))
    text = " ".join(" ".join(rows).split())
    assert rows[0] == "  Horn: hard places"
    assert "1 2 8.0 notes a second" in text
    assert "the same in 4" in text
    assert command in text
    assert max(len(row) for row in rows) <= 80


def test_many_returns_are_counted():
    (place,) = found(*[bar for _ in range(8) for bar in (RUN, REST)])
    text = " ".join(" ".join(drawn(places_list("", [place], {}))).split())
    assert "the same in 3, 5, 7, 9 and 3 more" in text


def test_an_easy_part_says_so():
    assert "No bar of this part" in "".join(drawn(places_list("Horn", found(REST), {})))
