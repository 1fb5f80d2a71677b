"""Ctrl-C at any line of the book's code: what was kept is kept, once, and no more is lost than the
take that was just being kept."""

from __future__ import annotations

import sqlite3
import sys
from contextlib import closing, contextmanager
from itertools import count
from pathlib import Path

import pytest

from coach.book import practice
from coach.book.practice import PracticeBook
from coach.book.schema import transaction
from coach.core.profile.tally import Tally
from tests.book.dying import BOOK
from tests.book.making import keep, numbered, take_of

TAKES, SAMPLES = 3, 20


def practise(path: Path, told: list[int]) -> None:
    take = take_of(notes=2)
    with PracticeBook(path) as book:
        book.begin_session("drill")
        for number in range(1, TAKES + 1):
            keep(book, numbered(take, number), "d", Tally("k", "n", 1, 1, 1))
            told.append(number)


def interrupted(path: Path, at_line: int) -> tuple[list[int], int]:
    """(the takes that were kept, how many lines were run), Ctrl-C coming at one of them."""
    lines, told = count(1), []

    def line(frame, event, _):
        if event == "line" and next(lines) == at_line:
            raise KeyboardInterrupt
        return line

    def entered(frame, event, _):
        return line if BOOK in frame.f_code.co_filename else None

    before = sys.gettrace()
    sys.settrace(entered)
    try:
        practise(path, told)
    except KeyboardInterrupt:
        pass
    finally:
        sys.settrace(before)
    return told, next(lines) - 1


def test_ctrl_c_at_any_line_loses_no_take_that_was_kept(tmp_path):
    told, lines = interrupted(tmp_path / "whole.sqlite", 0)
    assert told == list(range(1, TAKES + 1))
    stopped = 0
    for number in range(SAMPLES):
        path = tmp_path / f"{number}.sqlite"
        told, _ = interrupted(path, 1 + number * lines // SAMPLES)
        stopped += len(told) < TAKES
        with PracticeBook(path) as book:
            assert book.remarks == ()
            kept = [int(row.tempo_bpm) for row in book.take_rows()]
            assert kept == sorted(set(kept))
            assert set(told) <= set(kept)
            assert len(kept) <= len(told) + 1
            assert sum(tally.count for tally in book.tallies("double-horn")) == len(kept)
        with closing(sqlite3.connect(path)) as db:
            assert db.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
            assert db.execute("PRAGMA foreign_key_check").fetchall() == []
    assert stopped > SAMPLES // 4


def test_ctrl_c_behind_the_commit_keeps_the_take_once(tmp_path, monkeypatch):
    @contextmanager
    def interrupting(db):
        with transaction(db):
            yield
        monkeypatch.setattr(practice, "transaction", transaction)
        raise KeyboardInterrupt

    path = tmp_path / "book.sqlite"
    monkeypatch.setattr(practice, "transaction", interrupting)
    with pytest.raises(KeyboardInterrupt), PracticeBook(path) as ours:
        keep(ours, numbered(take_of(), 1))
    assert (ours.remarks, ours.kept_nowhere) == ((), None)
    with PracticeBook(path) as book:
        assert book.remarks == ()
        assert [int(row.tempo_bpm) for row in book.take_rows()] == [1]
