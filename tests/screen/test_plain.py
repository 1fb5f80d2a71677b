"""The plain screen: its lines, and nothing but text."""

from __future__ import annotations

import io
from dataclasses import replace

from coach.core.gate import Pace
from coach.core.view import TakeLine, View
from coach.screen.plain import PlainScreen
from tests.screen import shots, views


def lines_of(*drawn: View, stream: io.TextIOBase | None = None) -> list[str]:
    out = io.StringIO()
    screen = PlainScreen(out)
    for view in drawn:
        screen.draw(view)
    return out.getvalue().splitlines()


def first_take(now: int) -> View:
    return replace(views.playing(now=now), path=(), take=1, pace=Pace(64.9, 60, 96))


def first_rest() -> View:
    view = views.rest()
    return replace(view, path=view.path[-1:])


def test_each_fault_once_as_it_falls() -> None:
    plan = views.plan()
    first, second = (
        replace(first_take(n), plan=plan, verdicts=views.judged(plan, n)[1]) for n in (5, 12)
    )
    assert lines_of(first, first, second, second) == [
        "Turns over the break [even] [/b] [red], take 1 at 64.9: 32 notes; 29 clean ones pass the"
        " gate.",
        "  note 4 (C5): late by 31 ms",
        "  note 7 (Bb4): early by 28 ms",
        "  note 10 (F4): missed",
    ]


def test_the_end_tells_the_rest_the_outcome_and_the_advice() -> None:
    view = first_rest()
    said = lines_of(first_take(22), view, replace(view, rest_s=1.0))
    assert said[-4:-2] == ["  note 25 (G4): late by 43 ms", "  note 28 (A4): unsure"]
    assert said[-2].startswith("Take 6: 24 of 31 clean, 77 %; gate 90 %: not yet.")
    assert said[-1] == view.advice


def test_what_the_whole_take_changed_is_told() -> None:
    view = first_take(5)
    changed = [replace(v, kind="late") if v.index == 3 else v for v in view.verdicts]
    playing = replace(view, verdicts=(replace(view.verdicts[0], kind="late"), *changed[1:]))
    said = lines_of(playing, first_rest())
    assert "  note 1 (G4): clean after all" in said


def test_a_take_begun_again_is_announced_again() -> None:
    again = replace(first_take(4), plan=views.plan(tempo_bpm=62.4), verdicts=())
    said = lines_of(first_take(4), again)
    assert [line for line in said if "ake 1 at" in line] == [said[0], said[-1]]
    assert "at 62.4" in said[-1]


def test_pause_and_notices_once() -> None:
    view = replace(first_take(4), phase="paused", notice="it was too loud")
    said = lines_of(view, view)
    assert said.count("Paused.") == 1
    assert said.count("Note: it was too loud") == 1


def test_a_notice_is_said_once_of_each_take() -> None:
    """Overdriven in both of two takes: said twice, though the words stay on the view between."""
    words = "it was too loud"
    rest = replace(first_rest(), notice=words)
    second = replace(first_take(3), plan=views.plan(), notice=words)
    after = replace(rest, path=(*rest.path, rest.path[-1]))
    said = lines_of(first_take(5), rest, rest, second, second, after, after)
    assert said.count(f"Note: {words}") == 2


def test_no_control_codes_and_no_letters_the_stream_lacks() -> None:
    raw = io.BytesIO()
    stream = io.TextIOWrapper(raw, encoding="ascii")
    with PlainScreen(stream) as screen:
        screen.draw(replace(views.playing(), title="Étude \x1b[31m [red]"))
    text = raw.getvalue().decode("ascii")
    assert "?tude  [31m [red]" in text
    assert "\x1b" not in text


def test_a_path_kept_from_before_says_nothing_without_a_take() -> None:
    view = replace(first_take(4), path=(TakeLine(1, 60, 1.0, True),), verdicts=())
    assert len(lines_of(view)) == 1


def test_golden_has_no_control_codes() -> None:
    assert all(c.isprintable() or c == "\n" for c in shots.plain_lines())
