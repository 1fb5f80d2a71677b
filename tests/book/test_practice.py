"""The practice book keeps takes whole, and keeps them for good."""

from __future__ import annotations

import sqlite3
from contextlib import closing, suppress
from dataclasses import replace
from datetime import date
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.book.practice import PracticeBook
from coach.book.records import passage_digest, take_from_json, take_to_json
from coach.book.rows import DAY, Ceiling
from coach.core.exercise import Drill
from coach.core.judge import judge_take
from coach.core.passage import MeterChange
from coach.core.profile.tally import Tally
from coach.core.rules import Rules
from coach.errors import CoachError
from tests.book.making import drill_of, keep, take_of


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


def test_a_newer_book_is_left_alone(tmp_path):
    path = tmp_path / "book.sqlite"
    with closing(sqlite3.connect(path)) as db:
        db.execute("PRAGMA user_version = 99")
    was = path.read_bytes()
    with pytest.raises(CoachError, match="newer"):
        PracticeBook(path)
    assert path.read_bytes() == was


def kept_on(book, days_ago, drill="d"):
    """A take kept so many days ago."""
    keep(book, drill=drill)
    book._db.execute(
        "UPDATE takes SET kept_utc = strftime('%Y-%m-%dT%H:%M:%fZ', 'now', ?), day = day - ?"
        " WHERE id = (SELECT MAX(id) FROM takes)",
        (f"-{days_ago} days", days_ago),
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


def test_the_figures_of_a_take(tmp_path):
    take = take_of()
    report = judge_take(take, Rules())
    with PracticeBook(tmp_path / "book.sqlite") as book:
        kept_on(book, 5)
        keep(book)
        old, new = book.take_rows()
        assert book.take_rows(book.today() - 4) == [new]
        assert book.today() == date.today().toordinal()
    assert (old.day, new.day) == (new.day - 5, date.today().toordinal())
    assert (new.drill, new.title, new.instrument) == ("d", "invented", "double-horn")
    assert (new.tempo_bpm, new.notes, new.passed) == (120.0, 8, report.passed)
    assert new.clean == report.counts["clean"]
    assert new.counted == 8 - report.counts.get("unsure", 0)
    # One bar of four at 120 a minute.
    assert new.seconds == pytest.approx(2.0)
    assert new.offset_ms == pytest.approx(report.offset_ms, abs=0.01)
    assert new.evenness_cv == pytest.approx(report.evenness_cv, abs=1e-4)


TALLIES = st.builds(
    Tally,
    st.sampled_from(["move", "syllable"]),
    st.sampled_from(["1>3", "ka"]),
    st.integers(730_000, 730_002),
    st.integers(0, 50),
    st.integers(0, 50),
    st.integers(0, 50),
    st.integers(-9999, 9999).map(float),
    st.integers(0, 9999).map(float),
)


@settings(max_examples=25)
@given(st.lists(st.lists(TALLIES, max_size=4), max_size=4))
def test_tallies_are_added_up(tmp_path_factory, takes):
    """As `Tally.plus` adds them (whole numbers, so that the order of adding is nothing)."""
    take, expected = take_of(notes=2), {}
    with PracticeBook(tmp_path_factory.mktemp("tallied") / "book.sqlite") as book:
        for tallies in takes:
            keep(book, take, "d", *tallies)
            for tally in tallies:
                key = (tally.kind, tally.name, tally.day)
                expected[key] = expected[key].plus(tally) if key in expected else tally
        found = book.tallies("double-horn")
        later = book.tallies("double-horn", since_day=730_001)
        assert book.tallies("tuba") == []
    assert {(t.kind, t.name, t.day): t for t in found} == expected
    assert len(found) == len(expected)
    assert sorted(later, key=repr) == sorted((t for t in found if t.day > 730_000), key=repr)


def test_a_take_its_tallies_and_its_session_are_one_transaction(tmp_path):
    with PracticeBook(tmp_path / "book.sqlite") as book:
        book.begin_session("drill")
        with pytest.raises(CoachError):
            keep(book, None, "d", Tally("k", "n", 1, 1, 1, 1, float("nan")))
        for table in ("takes", "evidence", "tallies", "sessions", "passages"):
            assert book._db.execute(f"SELECT count(*) FROM {table}").fetchone() == (0,)


def sessions(path):
    with closing(sqlite3.connect(path)) as db:
        return db.execute(
            "SELECT command, started_utc <= ended_utc, ended, count(takes.id) FROM sessions"
            " LEFT JOIN takes ON session = sessions.id GROUP BY sessions.id"
        ).fetchall()


def test_sessions_begin_with_their_first_take_and_say_how_they_ended(tmp_path):
    path = tmp_path / "book.sqlite"
    with PracticeBook(path) as book:
        book.begin_session("warmup")  # nothing was played
    with PracticeBook(path) as book:
        book.begin_session("drill")
        keep(book)
        keep(book)
    with suppress(KeyboardInterrupt), PracticeBook(path) as book:
        book.begin_session("trial")
        keep(book)
        raise KeyboardInterrupt
    with PracticeBook(path) as book:
        keep(book)  # of no session
    assert sessions(path) == [("drill", 1, "done", 2), ("trial", 1, "stopped", 1)]


def test_versions_of_a_passage_are_told_apart(tmp_path):
    """Another fingering or syllable is another version; another tempo or title is not."""
    take = take_of()
    exercise = take.plan.exercise
    passage = exercise.passage
    notes = passage.notes
    versions = [
        passage,
        replace(passage, notes=(replace(notes[0], fingering="1"), *notes[1:])),
        replace(passage, notes=(replace(notes[0], syllable="ka"), *notes[1:])),
        replace(passage, notes=(replace(notes[0], pitch=59), *notes[1:])),
    ]
    same = [replace(passage, title="other")]
    with PracticeBook(tmp_path / "book.sqlite") as book:
        for version in versions + same:
            exercise = replace(exercise, passage=version, tempo_bpm=exercise.tempo_bpm + 1)
            keep(book, replace(take, plan=replace(take.plan, exercise=exercise)))
        rows = book._db.execute("SELECT digest, notes FROM passages ORDER BY id").fetchall()
    assert rows == [(passage_digest(version), 8) for version in versions]
    assert len(set(rows)) == 4


def test_ceilings_are_kept_by_version_of_the_passage(tmp_path):
    take = take_of()
    passage = take.plan.exercise.passage
    other = passage.transposed(2)
    with PracticeBook(tmp_path / "book.sqlite") as book:
        book.add_ceiling(drill_of(take), passage, 132.0, 126.0, 138.5)
        book.add_ceiling(drill_of(take), other, 90.0, 80.0, 99.0)
        today = book.today()
        assert book.ceilings("d") == [
            Ceiling(today, "double-horn", 8, passage_digest(passage), 132.0, 126.0, 138.5),
            Ceiling(today, "double-horn", 8, passage_digest(other), 90.0, 80.0, 99.0),
        ]
        assert book.ceilings("other") == []


@pytest.mark.parametrize(
    ("utc", "day"),
    [("1970-01-01T12:00:00.000Z", date(1970, 1, 1)), ("2026-11-26T12:30:00.000Z", None)],
)
def test_days_are_counted_as_python_counts_them(utc, day, monkeypatch):
    monkeypatch.setenv("TZ", "UTC")
    with closing(sqlite3.connect(":memory:")) as db:
        (found,) = db.execute(f"SELECT {DAY.format(utc='?')}", (utc,)).fetchone()
    assert found == (day or date(2026, 11, 26)).toordinal()
