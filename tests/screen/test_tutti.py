"""The ensemble on the screen, at every size; the pictures themselves are golden ones."""

from __future__ import annotations

import io
import re

import pytest
from rich.console import Console

from coach.core.tutti.fit import fit_of
from coach.core.tutti.mixer import Mix
from coach.core.tutti.words import fit_sentences
from coach.core.view import View
from coach.screen.section import SectionScreen
from coach.screen.stage import StageScreen
from coach.screen.tutti import MixLine, conductor_lines, fit_body
from coach.screen.words import next_words, outcome_line
from tests.core.tutti.simulated import ensemble_of, take
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


def drawn(screen: StageScreen, view: View, console: Console) -> str:
    """What stands on a terminal after this view, in one line."""
    with screen:
        screen.draw(view)
    return " ".join(re.sub(r"\x1b\[[^a-zA-Z]*[a-zA-Z]", " ", console.file.getvalue()).split())


def terminal() -> Console:
    return Console(file=io.StringIO(), width=80, height=24, force_terminal=True, no_color=True)


def test_between_takes_the_gate_and_the_next_tempo_are_told():
    report, console = take(tuttishots.PLAN), terminal()
    view = tuttishots.rested(report)
    ensemble = ensemble_of(tuttishots.PLAN, *tuttishots.OTHERS)
    said = drawn(StageScreen(console, ensemble, Mix), view, console)
    first = fit_sentences(fit_of(report, tuttishots.PLAN, ensemble))[0]
    assert f"{first} {outcome_line(view)}" in said
    assert "48 of 48 clean, 100 %; gate 90 %: passed. Next: up to " in said


def test_after_a_section_played_the_next_tempo_is_told():
    report, console = take(tuttishots.PLAN), terminal()
    view = tuttishots.rested(report)
    ensemble = ensemble_of(tuttishots.PLAN)
    screen = SectionScreen(console, ensemble, Mix, lambda *_: tuttishots.section())
    assert f"pass (90 %). {next_words(view)}" in drawn(screen, view, console)


def test_cents_stand_without_a_sign_at_nought():
    report = take(tuttishots.PLAN, cents=lambda k: -14.0)
    fit = fit_of(report, tuttishots.PLAN, ensemble_of(tuttishots.PLAN, *tuttishots.OTHERS))
    rows = render(fit_body(fit, tuttishots.SCORE, 80, 60), 80, 60).splitlines()
    assert not any(re.search(r"[-+]0\b", row) for row in rows)
    assert any("just, cents" in row and "tempered, cents" in row for row in rows)
