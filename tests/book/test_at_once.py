"""Two coaches at once in a book of several players: nothing is lost, and all of it is the right
player's."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
import textwrap
from contextlib import closing
from pathlib import Path

import pytest

from coach.book.players import add_player
from coach.book.practice import PracticeBook
from coach.core.planning.goals import Goal

HORN, MANY = "double-horn", 60
WAITING = """
    import sys, time
    from pathlib import Path
    from coach.book.practice import PracticeBook
    from coach.core.planning.goals import Goal
    from coach.core.profile.tally import Tally
    from tests.book.making import keep, numbered, take_of
    path, take = Path(sys.argv[1]), take_of(notes=2)
    print("ready", flush=True)
    input()
"""
# Ada plays; her teacher's coach sets her goals and counts her minutes.
PLAYS = """
    with PracticeBook(path, "Ada") as book:
        book.begin_session("drill")
        for number in range(1, {many} + 1):
            keep(book, numbered(take, number), "d", Tally("k", "n", 1, 1, 1))
            time.sleep(0.002)  # else sqlite lets one go on before the other
"""
SETS = """
    with PracticeBook(path, "Ada") as hers, PracticeBook(path, "Bo") as his:
        his.begin_session("drill")
        for number in range(1, {many} + 1):
            hers.diary.set_goal(Goal("d", "double-horn", 60.0 + number))
            hers.diary.add_elsewhere(number % 7 + 1, 1.0, "lesson")
            keep(his, numbered(take, 1000 + number), "d", Tally("k", "n", 1, 1, 1))
            hers.diary.keep_plan("double-horn", None, ["d"], {{}})
            time.sleep(0.002)
"""


@pytest.fixture
def path(tmp_path) -> Path:
    path = tmp_path / "book.sqlite"
    with PracticeBook(path) as book:
        for name in ("Ada", "Bo"):
            book.rewrite(lambda db, name=name: add_player(db, name))
    return path


def at_once(path: Path, *programs: str) -> None:
    """Run them, begun together; all must end well and say nothing."""
    whole = [textwrap.dedent(WAITING + program.format(many=MANY)) for program in programs]
    pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE, "stderr": subprocess.PIPE}
    coaches = [
        subprocess.Popen([sys.executable, "-c", text, str(path)], **pipes, text=True)
        for text in whole
    ]
    for coach in coaches:
        assert coach.stdout.readline() == "ready\n"
    for coach in coaches:
        coach.stdin.write("go\n")
        coach.stdin.flush()
    assert [(coach.communicate()[1], coach.returncode) for coach in coaches] == [("", 0)] * 2


def test_goals_are_set_while_another_coach_keeps_takes_of_two_players(path):
    at_once(path, PLAYS, SETS)
    with PracticeBook(path, "Ada") as book:
        assert [int(row.tempo_bpm) for row in book.take_rows()] == [*range(1, MANY + 1)]
        assert [tally.count for tally in book.tallies(HORN)] == [MANY]
        assert book.diary.goals() == [Goal("d", HORN, 60.0 + MANY)]
        assert sum(load.minutes for load in book.diary.elsewhere()) == MANY
    with PracticeBook(path, "Bo") as book:
        assert [int(row.tempo_bpm) for row in book.take_rows()] == [*range(1001, 1001 + MANY)]
        assert [tally.count for tally in book.tallies(HORN)] == [MANY]
        assert book.diary.goals() == book.diary.elsewhere() == []
    with closing(sqlite3.connect(path)) as db:
        sessions = db.execute(
            "SELECT name, count(DISTINCT session), count(*) FROM takes JOIN players"
            " ON players.id = takes.player JOIN sessions ON sessions.id = session"
            " WHERE sessions.player = takes.player GROUP BY name"
        ).fetchall()
        interleaved = db.execute(
            "SELECT count(*) FROM takes a JOIN takes b ON b.id = a.id + 1 AND a.player != b.player"
        ).fetchone()
    assert sessions == [("Ada", 1, MANY), ("Bo", 1, MANY)]
    assert interleaved[0] > MANY // 10, "they did not play at once"
