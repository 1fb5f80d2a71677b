"""The ensemble on the screen, at every size; the pictures themselves are golden ones."""

from __future__ import annotations

import io

import pytest
from rich.console import Console

from coach.screen.tutti import MixLine, conductor_lines
from tests.screen import tuttishots
from tests.screen.shots import render


@pytest.mark.parametrize("name", tuttishots.SHOTS)
@pytest.mark.parametrize("width", [40, 61, 80, 200])
@pytest.mark.parametrize("height", [10, 15, 24, 60])
def test_nothing_runs_out_of_the_window(name, width, height):
    rows = render(tuttishots.SHOTS[name](width, height), width, height).splitlines()
    assert len(rows) <= height
    assert max(map(len, rows)) <= width


@pytest.mark.parametrize("size", [(40, 10), (40, 20), (80, 24), (200, 60)])
def test_the_entry_is_told_at_every_size(size):
    rows = conductor_lines(tuttishots.stand(8), tuttishots.SCORE, tuttishots.MIX, *size)
    assert any("entry in 2 bars" in row.plain for row in rows)
    rows = conductor_lines(tuttishots.stand(14), tuttishots.SCORE, tuttishots.MIX, *size)
    assert any(">> entry in 2 beats" in row.plain for row in rows)


def test_the_next_notes_stand_over_their_fingerings():
    rows = conductor_lines(tuttishots.stand(8), tuttishots.SCORE, (), 80, 24)
    at = next(k for k, row in enumerate(rows) if "|45 " in row.plain)
    assert rows[at].plain.split()[:5] == ["|45", "D4", "E4", "F4", "G4"]
    assert rows[at + 1].plain.split()[:4] == ["12", "0", "12", "0"]
    assert rows[at].plain.index("D4") == rows[at + 1].plain.index("12")


def test_the_mixer_says_what_sounds():
    mix = (MixLine("a", -3, chosen=True), MixLine("b", muted=True), MixLine("c", 2, solo=True))
    rows = conductor_lines(tuttishots.stand(0), tuttishots.SCORE, mix, 80, 24)
    assert any(row.plain == "  > a -3 dB   b muted   c solo +2 dB" for row in rows)


@pytest.mark.parametrize(
    ("pan", "words"),
    [(-1.0, " left"), (-0.25, " left 25 %"), (0.0, ""), (0.75, " right 75 %"), (1.0, " right")],
)
def test_the_mixer_says_where_a_voice_is_in_words(pan, words):
    mix = (MixLine("a", -3, pan=pan), MixLine("b", muted=True, pan=pan))
    rows = conductor_lines(tuttishots.stand(0), tuttishots.SCORE, mix, 80, 24)
    assert any(row.plain == f"  a -3 dB{words}   b muted{words}" for row in rows)


@pytest.mark.parametrize("size", [(40, 20), (80, 24)])
def test_a_notice_is_shown_whole(size):
    notice = "Left and right need something that is told in more words than go on a line of these."
    rows = conductor_lines(
        tuttishots.stand(8), tuttishots.SCORE, tuttishots.MIX, *size, notice=notice
    )
    assert notice in " ".join(" ".join(row.plain for row in rows).split())
    assert len(rows) <= size[1]


def test_without_colour_the_note_that_sounds_is_underlined():
    out = io.StringIO()
    console = Console(
        file=out, width=80, force_terminal=True, color_system="truecolor", no_color=True
    )
    console.print(tuttishots.SHOTS["tutti-playing"](80, 24))
    assert "\x1b[1;4m" in out.getvalue()
    assert "38;2" not in out.getvalue()


def test_names_from_outside_move_no_cursor():
    rows = conductor_lines(
        tuttishots.stand(0), tuttishots.SCORE, (MixLine("x\x1b[2J"),), 80, 24, title="\x1b[2J"
    )
    assert not any("\x1b" in row.plain for row in rows)
