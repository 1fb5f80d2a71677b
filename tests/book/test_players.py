"""Several players in one book: who plays, and that nobody sees what another one played."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Callable
from datetime import date
from itertools import count
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from coach.book import diary as diary_module
from coach.book import practice
from coach.book.diary import Diary
from coach.book.players import (
    NAMELESS,
    add_player,
    choose_instrument,
    choose_player,
    rename_player,
)
from coach.book.practice import PracticeBook
from coach.book.reads import Reads
from coach.book.rows import Moment
from coach.core.assignment import Assignment
from coach.core.planning.goals import Goal
from coach.core.profile.tally import Tally
from coach.errors import CoachError
from tests.book.making import drill_of, keep, numbered, take_of

TODAY = date(2026, 3, 14).toordinal()
HORN = "double-horn"


@pytest.fixture
def path(tmp_path) -> Path:
    return tmp_path / "book.sqlite"


def added(path: Path, *names: str) -> None:
    with PracticeBook(path) as book:
        for name in names:
            book.rewrite(lambda db, name=name: add_player(db, name))


def chosen(path: Path, name: str, second: int) -> None:
    utc = f"2026-03-14T12:00:{second:02}.000Z"
    with PracticeBook(path) as book:
        book.rewrite(lambda db: choose_player(db, name, utc))


def who_plays(path: Path) -> str:
    with PracticeBook(path) as book:
        assert [player.name for player in book.players() if player.chosen] == [book.player]
        return book.player


def test_the_first_plays_until_another_is_chosen(path):
    assert who_plays(path) == NAMELESS
    added(path, "Ada", "Bo")
    assert who_plays(path) == NAMELESS
    for second, name in enumerate(("Bo", "Ada", "Bo", NAMELESS)):
        chosen(path, name, second)
        assert who_plays(path) == name


def test_a_player_asked_for_plays_without_being_chosen(path):
    added(path, "Ada")
    with PracticeBook(path, "Ada") as book:
        assert book.player == "Ada"
        keep(book)
    assert who_plays(path) == NAMELESS
    with PracticeBook(path) as book:
        assert book.takes() == []


def test_a_player_nobody_knows_is_an_error(path):
    added(path, "Ada")
    with pytest.raises(CoachError, match='no player "ada"'):
        PracticeBook(path, "ada")


def test_players_are_listed_by_name_with_their_takes_and_instrument(path):
    added(path, "Bo", "Ada")
    with PracticeBook(path, "Bo") as book:
        for _ in range(3):
            keep(book)
        number = book.player_id()
        for instrument in ("tuba", HORN, "trumpet"):
            book.rewrite(lambda db, name=instrument: choose_instrument(db, number, name))
        assert book.instrument() == "trumpet"
    with PracticeBook(path) as book:
        found = book.players()
        assert book.instrument() is None
    assert [(p.name, p.takes, p.chosen, p.instrument) for p in found] == [
        ("Ada", 0, False, None),
        ("Bo", 3, False, "trumpet"),
        (NAMELESS, 0, True, None),
    ]
    assert all(re.fullmatch("[0-9a-f]{32}", player.uid) for player in found)
    assert len({player.uid for player in found}) == 3


def test_what_was_played_is_an_instrument_but_not_the_chosen_one(path):
    with PracticeBook(path) as book:
        keep(book)
        keep(book)
        assert book.instrument() is None
        rows = book._db.execute("SELECT name, chosen FROM instruments").fetchall()
    assert rows == [(HORN, 0)]


def test_another_name_keeps_takes_and_uid(path):
    added(path, "Ada")
    with PracticeBook(path, "Ada") as book:
        keep(book)
        before = {player.name: player.uid for player in book.players()}
        book.rewrite(lambda db: rename_player(db, "Ada", "Eve"))
        keep(book)  # the session goes on
    with PracticeBook(path, "Eve") as book:
        assert len(book.takes()) == 2
        after = {player.name: player.uid for player in book.players()}
    assert after == {"Eve": before["Ada"], NAMELESS: before[NAMELESS]}


def test_no_two_players_have_a_name_or_a_uid(path):
    added(path, "Ada", "Bo")
    with PracticeBook(path) as book:
        uid = book.players()[0].uid
        for change in (
            lambda db: add_player(db, "Ada"),
            lambda db: add_player(db, "Cy", uid),
            lambda db: rename_player(db, "Bo", "Ada"),
        ):
            with pytest.raises(sqlite3.IntegrityError):
                change(book._db)
        assert [player.name for player in book.players()] == ["Ada", "Bo", NAMELESS]


# Every public read of the book and of its diary; a new one must be added here.
READS: dict[str, Callable[[PracticeBook], Any]] = {
    "instrument": lambda book: book.instrument(),
    "takes": lambda book: (book.takes(), book.takes("d")),
    "latest": lambda book: (book.latest(9), book.latest(9, "d"), book.latest(1)),
    "kept": lambda book: [
        kept and (kept.id, kept.uid)
        for kept in map(book.kept, (*range(1, 9), *(f"{k:032x}" for k in range(40))))
    ],
    "take_rows": lambda book: (book.take_rows(), book.take_rows(TODAY)),
    "tallies": lambda book: (book.tallies(HORN), book.tallies(HORN, TODAY)),
    "ceilings": lambda book: book.ceilings("d"),
    "drills": lambda book: book.drills(HORN),
    "days": lambda book: book.days("d"),
    "earlier": lambda book: [
        (take.tempo_bpm, take.clean, take.counted) for take in book.earlier(("d", "e"), 8)
    ],
    "diary.goals": lambda book: (book.diary.goals(), book.diary.goals(HORN)),
    "diary.drop_goal": lambda book: book.diary.drop_goal("only-hers", HORN),
    "diary.plan": lambda book: book.diary.plan(HORN),
    "diary.planned": lambda book: book.diary.planned(HORN, 0),
    "diary.concert_day": lambda book: book.diary.concert_day(HORN),
    "diary.elsewhere": lambda book: (book.diary.elsewhere(), book.diary.elsewhere(TODAY)),
    "diary.assignments": lambda book: book.diary.assignments(),
}
# These tell nothing that a player has, or are for all of them.
NO_READS = {
    *("diary", "begin_session", "append", "add_ceiling", "keep", "rewrite", "rows", "close"),
    *("player_id", "players", "today", "moment", "hindrance"),
    *(f"diary.{name}" for name in ("set_goal", "keep_plan", "add_elsewhere", "add_assignment")),
}


def public(kind: type, before: str = "") -> set[str]:
    return {f"{before}{name}" for name in vars(kind) if not name.startswith("_")}


def test_every_public_read_is_tested_here():
    found = public(PracticeBook) | public(Reads) | public(Diary, "diary.")
    assert found == set(READS) | NO_READS


@pytest.fixture
def numbers(monkeypatch):
    """Uids that count, so that two books can be compared; `numbers(k)` starts again at k."""

    def numbers(first: int) -> None:
        counted = count(first)
        for module in (practice, diary_module):
            monkeypatch.setattr(
                module, "uuid4", lambda: SimpleNamespace(hex=f"{next(counted):032x}")
            )

    return numbers


def fill(path: Path, name: str, of: int, numbers, monkeypatch) -> None:
    """All that a player can have in a book, with figures that tell whose it is."""
    numbers(of)
    with PracticeBook(path, name) as book:
        number = book.player_id()
        book.rewrite(lambda db: choose_instrument(db, number, "tuba" if of else HORN))
        for day in (TODAY - 1, TODAY):
            moment = Moment(f"{date.fromordinal(day)}T12:00:{of:02}.000Z", day)
            monkeypatch.setattr(book, "moment", lambda moment=moment: moment)
            take = numbered(take_of(), 60 + of)
            keep(book, take, "d", Tally("move", f"{of}>1", day, 1 + of, 1))
            keep(book, take, "e" if of else "f")
            passage = take.plan.exercise.passage
            book.add_ceiling(drill_of(take), passage, 60.0 + of, 50.0 + of, 70.0 + of)
            book.diary.set_goal(Goal("d", HORN, 60.0 + of))
            book.diary.keep_plan(HORN, TODAY + of, [f"plan {of}"], {"of": of})
            book.diary.add_elsewhere(day, 5.0 + of, "lesson")
            goals = (Goal("g", HORN, 70.0 + of),)
            book.diary.add_assignment(Assignment("a" * 32, f"title {of}", "", "", None, goals))
        if of:
            book.diary.set_goal(Goal("only-hers", HORN, 60.0 + of))


def read(path: Path, name: str, monkeypatch) -> dict[str, Any]:
    with PracticeBook(path, name) as book:
        moment = Moment("", TODAY)
        monkeypatch.setattr(book, "moment", lambda: moment)
        return {what: ask(book) for what, ask in READS.items()}


def test_nobody_sees_or_touches_what_another_has(tmp_path, numbers, monkeypatch):
    """What Bo reads is the same with and without Ada's entries, which name the same drills, the
    same passage and the same assignment; and Cy, who has nothing, reads what an empty book has."""
    alone, shared = tmp_path / "alone.sqlite", tmp_path / "shared.sqlite"
    added(alone, "Bo", "Cy")
    added(shared, "Bo", "Cy", "Ada")
    nothing = read(alone, "Cy", monkeypatch)
    for path in (alone, shared):
        fill(path, "Bo", 0, numbers, monkeypatch)
    fill(shared, "Ada", 20, numbers, monkeypatch)
    expected = read(alone, "Bo", monkeypatch)
    assert all(expected[what] != nothing[what] for what in READS if what != "diary.drop_goal")
    for what in READS:
        assert read(shared, "Bo", monkeypatch)[what] == expected[what], what
        assert read(shared, "Cy", monkeypatch)[what] == nothing[what], what
    with PracticeBook(shared, "Bo") as book:
        assert book.diary.drop_goal("d", HORN)
    hers = read(shared, "Ada", monkeypatch)  # she still has all that the others read around
    assert all(hers[what] != expected[what] for what in READS if what != "days")
    assert [goal.drill for goal in hers["diary.goals"][0]] == ["d", "g", "only-hers"]
