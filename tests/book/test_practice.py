"""The practice book keeps takes whole, and keeps them for good."""

from __future__ import annotations

import os
import signal
import sqlite3
import subprocess
import sys
import textwrap
from dataclasses import replace
from fractions import Fraction

import pytest

from coach.book.practice import PracticeBook
from coach.book.records import take_from_json, take_to_json
from coach.core.exercise import ClickStyle, Drill
from coach.core.judge import judge_take
from coach.core.passage import MeterChange
from coach.core.rules import Rules
from coach.core.take import Gap, Take
from coach.errors import CoachError
from tests.making import attacks_of, plan_of, scale


def take_of() -> Take:
    plan = plan_of(scale(), length_beats=Fraction(1, 3), click=ClickStyle(off_bars=(2, 1)))
    attacks = attacks_of(plan, {2: 4000})
    return Take(3, plan, tuple(attacks), (Gap(plan.dues[5].frame, 99),), False, lost_frames=99)


def test_a_take_survives_json_unchanged():
    take = take_of()
    assert take_from_json(take_to_json(take)) == take


def test_a_change_of_meter_survives_json():
    take = take_of()
    change = MeterChange(Fraction(4), Fraction(3), Fraction(1))
    exercise = take.plan.exercise
    passage = replace(exercise.passage, changes=(change,))
    changed = replace(take, plan=replace(take.plan, exercise=replace(exercise, passage=passage)))
    assert take_from_json(take_to_json(changed)) == changed


def test_what_was_kept_can_be_judged_again(tmp_path):
    take = take_of()
    report = judge_take(take, Rules())
    drill = Drill("d", "D", "", (take.plan.exercise.passage,))
    with PracticeBook(tmp_path / "book.sqlite") as book:
        book.append(take, report, drill)
    with PracticeBook(tmp_path / "book.sqlite") as book:
        assert book.takes("d") == [take]
        assert judge_take(book.takes()[0], Rules()) == report
        assert book.takes("other") == []


def test_kill_9_loses_nothing_that_was_kept(tmp_path):
    path = tmp_path / "book.sqlite"
    program = textwrap.dedent(
        f"""
        import os, signal
        from pathlib import Path
        from coach.book.practice import PracticeBook
        from coach.core.exercise import Drill
        from coach.core.judge import judge_take
        from coach.core.rules import Rules
        from tests.book.test_practice import take_of
        book = PracticeBook(Path({str(path)!r}))
        take = take_of()
        book.append(take, judge_take(take, Rules()), Drill("d", "D", "", ()))
        os.kill(os.getpid(), signal.SIGKILL)
        """
    )
    done = subprocess.run([sys.executable, "-c", program], cwd=os.getcwd())
    assert done.returncode == -signal.SIGKILL
    assert len(PracticeBook(path).takes()) == 1


def test_a_place_that_cannot_be_written_is_one_sentence(tmp_path):
    blocked = tmp_path / "file"
    blocked.write_text("")
    with pytest.raises(CoachError, match=r"can't be opened.*COACH_HOME"):
        PracticeBook(blocked / "book.sqlite")


def test_a_file_that_is_no_book_is_one_sentence(tmp_path):
    path = tmp_path / "book.sqlite"
    path.write_bytes(b"not a database, but long enough to be looked at" * 50)
    with pytest.raises(CoachError, match="can't be opened"):
        PracticeBook(path)


def test_a_newer_book_is_left_alone(tmp_path):
    path = tmp_path / "book.sqlite"
    with sqlite3.connect(path) as db:
        db.execute("PRAGMA user_version = 99")
    with pytest.raises(CoachError, match="newer"):
        PracticeBook(path)


def kept_on(book, days_ago, drill="d", take=None):
    """A take kept so many days ago."""
    take = take or take_of()
    book.append(take, judge_take(take, Rules()), Drill(drill, "D", "", ()))
    book._db.execute(
        "UPDATE takes SET kept_utc = strftime('%Y-%m-%dT%H:%M:%fZ', 'now', ?)"
        " WHERE id = (SELECT MAX(id) FROM takes)",
        (f"-{days_ago} days",),
    )


def test_days_of_practice_are_counted_without_today(tmp_path):
    with PracticeBook(tmp_path / "book.sqlite") as book:
        for days_ago in (4, 4, 2, 0):
            kept_on(book, days_ago)
        kept_on(book, 1, drill="other")
        assert book.days("d") == 2
        assert book.days("never") == 0


def test_earlier_takes_of_the_same_notes_tell_tempo_and_clean_notes(tmp_path):
    take = take_of()
    report = judge_take(take, Rules())
    with PracticeBook(tmp_path / "book.sqlite") as book:
        kept_on(book, 3)
        kept_on(book, 1, drill="other")
        (told,) = book.earlier(("d", "d-build"), len(take.plan.dues))
        assert told.tempo_bpm == take.plan.exercise.tempo_bpm
        assert told.clean == report.counts["clean"]
        assert told.counted == len(take.plan.dues) - report.counts.get("unsure", 0)
        assert told.days_ago == pytest.approx(3, abs=0.01)
        assert book.earlier(("d",), len(take.plan.dues) + 1) == []


def test_drills_come_by_when_they_were_played_last(tmp_path):
    with PracticeBook(tmp_path / "book.sqlite") as book:
        for drill in ("a", "b", "a", "c"):
            kept_on(book, 0, drill=drill)
        assert book.drills("double-horn") == ["c", "a", "b"]
        assert book.drills("tuba") == []
