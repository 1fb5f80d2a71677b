"""What is not judged says so; accents and what comes next are shown."""

from __future__ import annotations

import io
from dataclasses import replace

from rich.console import Console

from coach.core.gate import Pace
from coach.core.rules import Rules
from coach.core.timeline import Plan
from coach.core.view import View
from coach.screen.plain import PlainScreen
from coach.screen.rest import rest_foot
from coach.screen.strip import playing_lines
from tests.screen import views


def view_of(plan: Plan | None, **changes) -> View:
    base = View("Turns", "playing", plan, 0, 0, (), Pace(60, 60, 90), views.GATE)
    return replace(base, **changes)


def with_passage(**changes) -> Plan:
    plan = views.plan()
    passage = replace(plan.exercise.passage, **changes)
    return replace(plan, exercise=replace(plan.exercise, passage=passage))


def pictured(plan: Plan) -> str:
    return "\n".join(str(row) for row in playing_lines(view_of(plan), 100, 40, rules=Rules()))


def said(*shown: View) -> str:
    out = io.StringIO()
    with PlainScreen(out) as screen:
        for view in shown:
            screen.draw(view)
    return out.getvalue()


def test_air_alone_is_named_and_no_gate_is_shown():
    picture = pictured(with_passage(way="air", title="The last 3"))
    assert "air alone" in picture
    assert "nothing is judged" in picture
    assert "may slip" not in picture
    assert picture.split("take")[0].strip() == "The last 3"
    assert "The last 3, mouthpiece alone, at 64.9: not judged." in said(
        view_of(with_passage(way="mouthpiece", title="The last 3"))
    )


def test_accents_stand_under_their_notes():
    notes = views.passage().notes
    accented = tuple(replace(n, accent=k == 2) for k, n in enumerate(notes))
    assert ">" not in pictured(views.plan())
    assert sum(line.count(">") for line in pictured(with_passage(notes=accented)).split("\n")) == 1


def test_the_rest_says_what_comes_next_if_it_has_a_name():
    def foot(next_up: str) -> str:
        view = view_of(None, phase="rest", rest_s=6.0, next_up=next_up)
        console = Console(file=io.StringIO(), width=100)
        console.print(rest_foot(view, 100, "keys"))
        return console.file.getvalue()

    assert "next take in 6 s: B (on the F side)" in foot("B (on the F side)")
    assert "next take in 6 s\n" in foot("Turns")


def test_a_caution_is_never_cut_short():
    caution = "Stop where lips or jaw tire or hurt: " + "a teacher or a doctor knows better. " * 4
    view = view_of(None, phase="rest", rest_s=6.0, notice=caution.strip())
    console = Console(file=io.StringIO(), width=80)
    console.print(rest_foot(view, 80, "keys"))
    assert " ".join(console.file.getvalue().split()).count("knows better.") == 4


def test_what_a_part_is_for_is_said_once():
    first = view_of(None, phase="rest", advice="2 of 3. For the tongue.", rest_s=3.0)
    assert said(first, replace(first, rest_s=2.0)).count("For the tongue.") == 1
