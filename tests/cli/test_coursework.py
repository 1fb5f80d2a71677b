"""A course runs part by part, with its rests, and stops easily."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

from coach.book.practice import PracticeBook
from coach.cli import coursework
from coach.cli.coursework import _parts, show
from coach.cli.practice import Desk
from coach.core.course import Course, CoursePart
from coach.core.instrument import Instrument
from coach.ending import logged_end
from tests.test_session import RATE, FakeControls, FakeEar, FakePort, FakeScreen, drill_of, keep

HORN = Instrument("double-horn", "double horn", -7, 35, 77)


class Work:
    """A course of three parts of one take, worked through with everything faked."""

    def __init__(self, tmp_path, controls=None):
        self.port, self.screen, self.events, self.done = FakePort(), FakeScreen(), [], []
        parts = tuple(
            CoursePart(
                drill_of(name=name, title=name, to_bpm=200), 1, 3.0, f"Why {name}.", f"Mind {name}."
            )
            for name in ("first", "second", "third")
        )
        desk = Desk(
            self.port,
            lambda plan: FakeEar(plan, keep),
            self.screen,
            controls or FakeControls(),
            PracticeBook(tmp_path / "book.sqlite"),
            self.events.append,
        )
        play = partial(_parts, desk, Course("All", parts), HORN, self.done)
        self.reason = logged_end(play, self.events.append)

    def named(self, name):
        return [e for e in self.events if e["event"] == name]


def test_every_part_is_played_once_with_its_rest_between(tmp_path):
    work = Work(tmp_path)
    assert [e["drill"] for e in work.named("part_start")] == ["first", "second", "third"]
    assert [e["take"] for e in work.named("take_start")] == [1, 2, 3]
    assert work.named("session_end") == [{"event": "session_end", "reason": "the course is done"}]
    for before, after in zip(work.port.plans, work.port.plans[1:], strict=False):
        assert after.start_frame - before.end_frame >= 3 * RATE


def test_what_a_part_is_for_is_said_before_it_with_its_caution(tmp_path):
    views = Work(tmp_path).screen.views
    said = {(v.title, v.advice, v.notice) for v in views if v.last is None and v.advice}
    assert ("second", "2 of 3. Why second.", "Mind second.") in said


def test_stopping_a_part_goes_on_to_the_next(tmp_path):
    work = Work(tmp_path, FakeControls({3: "quit"}))
    assert [e["drill"] for e in work.named("part_start")] == ["first", "second", "third"]
    assert [e["take"] for e in work.named("take_start")] == [1, 1, 2]
    assert len(work.named("take_end")) == 2


def test_stopping_again_in_the_rest_ends_the_course(tmp_path):
    work = Work(tmp_path, FakeControls({3: "quit", 5: "quit"}))
    assert [e["drill"] for e in work.named("part_start")] == ["first", "second"]
    assert len(work.named("take_start")) == 1
    assert work.reason == "stopped by the player"


def test_ctrl_c_ends_the_whole_course(tmp_path):
    work = Work(tmp_path, FakeControls({3: "ctrl-c"}))
    assert work.reason == "stopped by the player"
    assert len(work.named("part_start")) == 1
    assert len(work.named("session_end")) == 1


def test_a_part_without_a_caution_says_none(tmp_path):
    drill = replace(drill_of(), cautions=("the drill's own",))
    part = CoursePart(drill, 1, 0.0, "Why.")
    port, screen = FakePort(), FakeScreen()
    desk = Desk(
        port,
        lambda plan: FakeEar(plan, keep),
        screen,
        FakeControls(),
        PracticeBook(tmp_path / "book.sqlite"),
        lambda event: None,
    )
    _parts(desk, Course("One", (part,)), HORN, [])
    assert {v.notice for v in screen.views} == {""}


def course_of(*whys: str) -> Course:
    parts = [CoursePart(drill_of(name="a", title="A"), 2, 3.0, why, "") for why in whys]
    return Course("All", tuple(parts))


def test_a_reason_is_given_once(capsys):
    show(course_of("Bar 1 at 44: so fingers learn.", "Bar 2 at 44: so fingers learn.", "Well."))
    rows = capsys.readouterr().out.splitlines()
    assert [row.partition("min: ")[2] for row in rows[1:]] == [
        "Bar 1 at 44: so fingers learn.",
        "Bar 2 at 44.",
        "Well.",
    ]


def test_on_a_terminal_parts_are_set_in(capsys, monkeypatch):
    monkeypatch.setattr(coursework, "columns", lambda _: 40)
    show(course_of("From bar 1, note 1 on at 44, all under one slur and then all tongued."))
    rows = capsys.readouterr().out.splitlines()
    assert len(rows) > 2
    assert max(map(len, rows)) <= 40
    assert all(row.startswith("     ") for row in rows[2:])
