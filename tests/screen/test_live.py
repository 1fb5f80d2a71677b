"""The live screen, drawn into a string, and the choice of a screen."""

from __future__ import annotations

import io
import re
import subprocess
import sys
from dataclasses import replace

import pytest
from rich.console import Console

import coach.screen
from coach.core.timeline import Plan
from coach.core.view import View
from coach.screen.choice import make_screen, show_summary
from coach.screen.live import LiveScreen
from coach.screen.pages import DeviceRow, devices_table, summary
from coach.screen.plain import PlainScreen
from coach.screen.strip import playing_lines
from coach.screen.words import counts_line
from tests.screen import shots, views

# ECMA-48: CSI, parameters, a final byte; "m" sets the rendition, 30 to 38, 40 to 48 and 90 to 107
# among its parameters are colours.
RENDITION = re.compile(r"\x1b\[([\d;]*)m")
WORDS_IN_TABLE = ("late", "early", "missed", "wrong", "split", "muffled", "unsure")


def terminal(width: int = 80, height: int = 24, **more: object) -> Console:
    return Console(
        file=io.StringIO(),
        width=width,
        height=height,
        force_terminal=True,
        color_system="truecolor",
        **more,  # type: ignore[arg-type]
    )


def drawn(view: View, console: Console) -> str:
    with LiveScreen(console, hint=shots.HINT) as screen:
        screen.draw(view)
    return console.file.getvalue()  # type: ignore[attr-defined]


def colours(output: str) -> list[str]:
    found = [code for codes in RENDITION.findall(output) for code in codes.split(";")]
    return [c for c in found if c and (30 <= int(c) <= 48 or 90 <= int(c) <= 107) and c != "39"]


ALL = {
    "playing": views.playing(),
    "count-in": views.count_in(),
    "rest": views.rest(),
    "paused": replace(views.rest(), phase="paused"),
    "nothing yet": View("Turns", "rest", None, 0, None, (), views.count_in().pace, views.GATE),
    "no notes yet": replace(views.playing(), now=None, verdicts=()),
}


@pytest.mark.parametrize("name", ALL)
def test_no_color_is_respected(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """no-color.org: NO_COLOR set and not empty takes the colour out."""
    monkeypatch.setenv("NO_COLOR", "1")
    assert colours(drawn(ALL[name], terminal())) == []


def test_there_is_colour_without_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("NO_COLOR", raising=False)
    assert colours(drawn(ALL["playing"], terminal()))
    assert colours(drawn(ALL["rest"], terminal()))


def test_verdicts_are_told_without_colour() -> None:
    """Word and shape stand in the table, word or letter in the picture while playing."""
    table = (shots.FOLDER / "rest-80x24.txt").read_text(encoding="utf-8")
    assert all(word in table for word in WORDS_IN_TABLE)
    overview = next(
        text.plain.replace(" ", "")
        for text in playing_lines(ALL["playing"], 80, 24, rules=views.RULES)
        if "●●●" in text.plain
    )
    assert overview == "●●●L●●E●●M●●●W●●●●S●●F┃·········"


def test_a_note_that_begins_to_show_is_a_ring() -> None:
    """It stands after the verdicts, until its own takes its place."""
    view = replace(ALL["playing"], glimpsed=frozenset({3, 23, 24}))
    overview = next(
        text.plain.replace(" ", "")
        for text in playing_lines(view, 80, 24, rules=views.RULES)
        if "●●●" in text.plain
    )
    assert overview == "●●●L●●E●●M●●●W●●●●S●●F┃◦◦·······"


@pytest.mark.parametrize("width", [20, 40, 60, 80, 120, 240])
@pytest.mark.parametrize("height", [3, 8, 12, 18, 24, 40, 80])
def test_playing_fits_every_window(width: int, height: int) -> None:
    for name in ("playing", "count-in", "no notes yet"):
        lines = playing_lines(ALL[name], width, height, rules=views.RULES, hint=shots.HINT)
        assert 0 < len(lines) <= height
        rows = shots.render(shots.playing(ALL[name])(width, height), width).splitlines()
        assert len(rows) <= height
        assert max(map(len, rows)) <= width


@pytest.mark.parametrize("width", [40, 60, 80, 120])
@pytest.mark.parametrize("height", [8, 12, 18, 24, 40])
def test_rest_fits_every_window(width: int, height: int) -> None:
    for view in (views.rest(), views.rest(9), ALL["nothing yet"]):
        rows = shots.render(shots.rest(view)(width, height), width).splitlines()
        assert len(rows) <= height
        assert max(map(len, rows)) <= width
        assert view.advice.split(":")[0][:30] in " ".join(rows)


def test_all_notes_are_shown_where_they_fit() -> None:
    rows = shots.render(shots.rest(views.rest(1, {3: 31.0}))(120, 40), 120).splitlines()
    assert sum("● clean" in row for row in rows) == 15
    rows = shots.render(shots.rest(views.rest(1, {3: 31.0}))(80, 20), 80).splitlines()
    assert sum("● clean" in row for row in rows) == 0
    assert sum("▶ late" in row for row in rows) == 1


def titled(plan: Plan, title: str) -> Plan:
    """The plan of a variant with this name of its own."""
    passage = replace(plan.exercise.passage, title=f"{title} variant")
    return replace(plan, exercise=replace(plan.exercise, passage=passage))


def test_titles_are_text_and_not_markup_or_control_codes() -> None:
    title = "[bold]Turns[/bold] [link=x] \x1b[2J"
    for view in (ALL["playing"], ALL["rest"]):
        named = replace(view, title=title, plan=view.plan and titled(view.plan, title))
        output = drawn(named, terminal(120, 40))
        assert "[bold]Turns[/bold] [link=x]" in output
        assert "\x1b[2J" not in output.split("Turns")[1]
    page = shots.render(summary(replace(ALL["rest"], title=title)), 80)
    assert "[bold]Turns[/bold] [link=x]" in page
    assert "\x1b" not in page
    assert "[USB]" in shots.render(devices_table([DeviceRow(0, "[USB] \x1b[2J", "MIDI")]), 80)


def test_devices_say_what_to_do():
    none = shots.render(devices_table([]), 40).splitlines()
    assert " ".join(" ".join(none).split()).endswith("without one: coach demo, or --input FILE")
    assert all(row.startswith("  ") for row in none)
    found = shots.render(devices_table([DeviceRow(0, "Horn", "MIDI in")]), 80)
    assert found.endswith("  Choose one: --device NAME, or its number\n")


def test_a_long_title_leaves_room_for_the_take() -> None:
    view = replace(ALL["playing"], title="Turns " * 40)
    first = playing_lines(view, 80, 24, rules=views.RULES)[0]
    assert first.cell_len <= 80
    assert first.plain.endswith("take 6   bar 2 of 2")


def test_window_may_change_between_pictures() -> None:
    console = terminal()
    with LiveScreen(console) as screen:
        for width, height in ((80, 24), (60, 12), (120, 40), (30, 6)):
            console.size = (width, height)  # type: ignore[assignment]
            start = len(console.file.getvalue())  # type: ignore[attr-defined]
            for view in (ALL["playing"], ALL["rest"]):
                screen.draw(view)
            picture = console.file.getvalue()[start:]  # type: ignore[attr-defined]
            rows = RENDITION.sub("", picture).replace("\x1b[H", "\n").split("\n")
            assert max(map(len, rows)) <= width


def test_the_same_picture_is_not_drawn_twice() -> None:
    console = terminal()
    with LiveScreen(console) as screen:
        screen.draw(ALL["playing"])
        before = len(console.file.getvalue())  # type: ignore[attr-defined]
        screen.draw(replace(ALL["playing"]))
        assert len(console.file.getvalue()) == before  # type: ignore[attr-defined]
        screen.draw(replace(ALL["playing"], now=23))
        assert len(console.file.getvalue()) > before  # type: ignore[attr-defined]


def test_a_new_table_is_drawn_when_the_take_changes() -> None:
    console = terminal()
    with LiveScreen(console) as screen:
        screen.draw(views.rest(1, {3: 31.0}))
        screen.draw(views.rest(1, {5: "missed"}))
    assert "○ missed" in RENDITION.sub("", console.file.getvalue())  # type: ignore[attr-defined]


def test_the_terminal_is_given_back_after_an_error() -> None:
    """xterm's private modes: 1049 the other screen, 25 the cursor."""
    console = terminal()

    def fail_while_playing() -> None:
        with LiveScreen(console) as screen:
            screen.draw(ALL["playing"])
            raise RuntimeError

    with pytest.raises(RuntimeError):
        fail_while_playing()
    output = console.file.getvalue()  # type: ignore[attr-defined]
    assert "\x1b[?1049h" in output
    assert output.rindex("\x1b[?1049l") > output.rindex("\x1b[?1049h")
    assert output.rindex("\x1b[?25h") > output.rindex("\x1b[?25l")


def test_choice() -> None:
    pipe = io.StringIO()
    assert isinstance(make_screen(stream=pipe), PlainScreen)
    assert isinstance(make_screen(plain=True, console=terminal()), PlainScreen)
    assert isinstance(make_screen(console=terminal()), LiveScreen)
    dumb = terminal(_environ={"TERM": "dumb"})
    assert isinstance(make_screen(console=dumb), PlainScreen)
    ascii_only = io.TextIOWrapper(io.BytesIO(), encoding="ascii")
    console = Console(file=ascii_only, force_terminal=True, _environ={"TERM": "xterm"})
    assert isinstance(make_screen(console=console), PlainScreen)


def test_summary_by_the_same_choice() -> None:
    console = terminal()
    show_summary(ALL["rest"], console=console, reason="6 takes done")
    assert "▁" in console.file.getvalue()  # type: ignore[attr-defined]
    pipe = io.StringIO()
    show_summary(ALL["rest"], stream=pipe, reason="6 takes done")
    assert pipe.getvalue().splitlines() == [
        "takes: 6, 4 of them passed the gate",
        "tempo: from 60 to 64.9",
        "fastest take passed: 62.4 clicks a minute",
        f"to work on: {ALL['rest'].advice}",
        "ended: 6 takes done",
    ]
    nothing = io.StringIO()
    show_summary(ALL["nothing yet"], plain=True, stream=nothing)
    assert nothing.getvalue() == "takes: none was finished\n"


def test_a_faultless_take_leaves_nothing_to_work_on() -> None:
    pipe = io.StringIO()
    show_summary(views.rest(faults={}), stream=pipe)
    assert "last take: Every note spoke" in pipe.getvalue()
    assert "to work on" not in pipe.getvalue()


def test_before_the_first_verdict_nothing_is_counted() -> None:
    for name, told in (("count-in", False), ("no notes yet", False), ("playing", True)):
        lines = playing_lines(ALL[name], 80, 24, rules=views.RULES)
        assert any(" of 0" in row.plain for row in lines) is False
        assert any("clean 16 of 22" in row.plain for row in lines) is told


@pytest.mark.parametrize("width", [40, 60, 80])
def test_what_the_table_leaves_out_is_told_whole(width: int) -> None:
    """Counts and place are wrapped and never cut; so many faults more have a row of their own."""
    many = dict.fromkeys(range(0, 60, 2), "missed") | views.FAULTS
    view = views.rest(9, many)
    rows = shots.render(shots.rest(view)(width, 24), width).splitlines()
    assert len(rows) <= 24
    told = " ".join(" ".join(rows).split())
    assert counts_line(view.last) in told
    assert "the click as a whole, spread" in told
    shown = sum(row[:3].strip().isdigit() and row.split()[1][0] in "ABCDEFG" for row in rows)
    left = next(int(row.split()[1]) for row in rows if row.split()[::2] == ["and", "more"])
    faults = sum(v.kind != "clean" for v in view.last.verdicts)
    assert shown + left == faults


def test_names_of_the_room() -> None:
    assert all(callable(getattr(coach.screen, name)) for name in coach.screen.__all__)
    with pytest.raises(AttributeError):
        coach.screen.nothing  # noqa: B018


def test_choosing_the_plain_screen_needs_no_rich() -> None:
    code = (
        "import sys; from coach.screen import make_screen; make_screen(plain=True);"
        "sys.exit('rich' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
