"""Records out of one book and into another: nothing is lost, nothing comes twice, nothing is left
half done."""

from __future__ import annotations

import copy
import json
import os
import subprocess
import sys
from pathlib import Path
from random import Random

import pytest

from coach.book.leaving import ExportChoice, Leaving
from coach.book.merging import merge
from coach.book.players import add_player
from coach.book.practice import PracticeBook
from coach.book.records import take_from_data, take_to_json
from coach.cli.sharing import usual_fingerings
from coach.core.planning.goals import Goal
from coach.core.share.whose import Whose
from coach.errors import CoachError, FileError
from coach.files.share.schema import check_record
from tests.bed.mutated import spoiled
from tests.sharing import fill, keep_some, leaving_records, played, told

IDA = Whose("Ida", "e" * 32, new=True)
posix = pytest.mark.skipif(os.name != "posix", reason="nothing forks")


@pytest.fixture(scope="module")
def full(tmp_path_factory) -> Path:
    path = tmp_path_factory.mktemp("full") / "book.sqlite"
    fill(path)
    return path


@pytest.fixture
def fresh(tmp_path) -> Path:
    return tmp_path / "fresh.sqlite"


def placed(records):
    return ((f"line {number}", record) for number, record in enumerate(records, 1))


def merged(path, records, who: Whose | None = None, **options):
    with PracticeBook(path) as book:
        if who is None:
            known = any(player.name == "Ida" for player in book.players())
            who = Whose("Ida", IDA.uid) if known else IDA
        return merge(book, who, placed(records), usual_fingerings(), **options)


def through_json(records):
    return [json.loads(json.dumps(record)) for record in records]


def test_a_round_trip_loses_nothing(full, fresh):
    """Every table row by row; evidence and reports byte for byte; tallies counted from the takes
    are those that were counted while they were played."""
    records = through_json(leaving_records(full))
    counts = merged(fresh, records)
    assert told(fresh, "Ida") == told(full)
    assert counts.new["take"] == 8
    assert not counts.there
    assert len(told(full)["tallies"]) > 20
    assert all(told(full).values())


def test_the_same_again_adds_nothing(full, fresh):
    records = through_json(leaving_records(full))
    first = merged(fresh, records)
    was = told(fresh, "Ida")
    again = merged(fresh, records)
    assert told(fresh, "Ida") == was
    assert not again.new
    assert again.there == first.new


def test_parts_that_overlap_make_the_whole(full, fresh):
    for choice in (ExportChoice(frozenset("a")), ExportChoice(frozenset("b")), ExportChoice()):
        merged(fresh, through_json(leaving_records(full, choice)))
    mine, theirs = told(fresh, "Ida"), told(full)
    # Sums of floating point numbers depend on their order in the last digit.
    tallies = mine.pop("tallies"), theirs.pop("tallies")
    for one, other in zip(*tallies, strict=True):
        assert one[:-2] == other[:-2]
        assert one[-2:] == pytest.approx(other[-2:])
    assert mine == theirs


def test_other_players_are_left_alone(full, fresh):
    fill(fresh, takes=2, seed=9)
    was = told(fresh)
    merged(fresh, through_json(leaving_records(full)))
    mine = told(fresh)
    assert {**mine, "passages": 0} == {**was, "passages": 0}
    assert {r["record"] for r in leaving_records(fresh)} == {
        r["record"] for r in leaving_records(full)
    }
    assert len(told(fresh, "Ida")["takes"]) == 8


def test_a_choice_takes_what_belongs_to_it(full):
    chosen = list(leaving_records(full, ExportChoice(frozenset("b"))))
    drills = {record["drill"] for record in chosen if "drill" in record}
    assert drills == {"b"}
    assert [r["uid"] for r in chosen if r["record"] == "assignment"] == ["ab" * 16]
    others = leaving_records(full, ExportChoice(frozenset("a")))
    assert not [r for r in others if r["record"] == "assignment"]
    with PracticeBook(full) as book:
        later = ExportChoice(since_day=book.today() + 1)
    kinds = [record["record"] for record in leaving_records(full, later)]
    assert kinds == ["header", "assignment", "goal", "goal"]


def test_builds_of_a_passage_belong_to_it(fresh):
    with PracticeBook(fresh) as book:
        keep_some(book, 2, Random(4), ["a-build", "ab"])
    chosen = leaving_records(fresh, ExportChoice(frozenset("a")))
    assert [r["drill"] for r in chosen if r["record"] == "take"] == ["a-build"]


def test_the_later_goal_stays(full, fresh):
    records = through_json(leaving_records(full))
    merged(fresh, records)
    with PracticeBook(fresh, "Ida") as book:
        book.diary.set_goal(Goal("a", "double-horn", 77.0))
    again = merged(fresh, records)
    assert again.there["goal"] == 2
    later = [{**r, "set_utc": "2999-01-01T00:00:00.000Z"} for r in records if r["record"] == "goal"]
    with PracticeBook(fresh, "Ida") as book:
        assert [goal.goal_bpm for goal in book.diary.goals()] == [77.0, 100.0]
    assert merged(fresh, later).new["goal"] == 2
    with PracticeBook(fresh, "Ida") as book:
        assert [goal.goal_bpm for goal in book.diary.goals()] == [131.5, 100.0]


def test_the_later_plan_of_a_day_stays(full, fresh):
    records = through_json(leaving_records(full))
    (plan,) = [r for r in records if r["record"] == "plan"]
    merged(fresh, records)
    assert merged(fresh, [{**plan, "names": ["z"], "made_utc": "2000-01-01T00:00:00Z"}]).new == {}
    assert merged(fresh, [{**plan, "names": ["z"], "made_utc": "2999-01-01T00:00:00Z"}]).new


def test_a_nameless_player_takes_the_uid_over(full, fresh):
    with PracticeBook(fresh) as book:
        number = book.player_id()
    merged(fresh, through_json(leaving_records(full)), Whose("player", "f" * 32, takes_over=True))
    assert told(fresh) == told(full)
    with PracticeBook(fresh) as book:
        assert [(p.id, p.name, p.uid) for p in book.players()] == [(number, "player", "f" * 32)]


def spoil_take(record):
    record["report"]["notes"].pop()


def spoil_day(record):
    record["day"] = "2027-02-30"


def spoil_instrument(record):
    record["instrument"] = "kazoo"


def spoil_overlap(record):
    record["take"]["plan"]["exercise"]["passage"]["notes"][1]["start_beats"] = "0"


def spoil_session(record):
    record["session"] = "2020-01-01T00:00:00.000Z"


def spoil_moment(record):
    record["kept_utc"] = "2027-01-01T25:00:00Z"


@pytest.mark.parametrize(
    ("spoil", "sentence"),
    [
        (spoil_take, "not of these notes"),
        (spoil_day, "this take can't be taken in"),
        (spoil_moment, "this take can't be taken in"),
        (spoil_instrument, 'no instrument "kazoo"'),
        (spoil_overlap, "notes overlap"),
        (spoil_session, "its session is not there"),
    ],
)
def test_a_bad_take_in_the_middle_changes_nothing(full, fresh, spoil, sentence):
    records = through_json(leaving_records(full))
    fill(fresh, takes=2, seed=3)
    was, size = told(fresh), len(list(fresh.parent.iterdir()))
    place = [n for n, record in enumerate(records) if record["record"] == "take"][4]
    spoil(records[place])
    check_record(records[place])
    with pytest.raises(FileError, match=rf"^line {place + 1}: .*{sentence}"):
        merged(fresh, records)
    assert told(fresh) == was
    assert len(list(fresh.parent.iterdir())) == size
    with PracticeBook(fresh) as book:
        assert [player.name for player in book.players()] == ["player"]


@pytest.mark.parametrize("kind", ["passage", "ceiling"])
def test_a_version_that_is_not_what_it_says(full, fresh, kind):
    records = through_json(leaving_records(full))
    for record in records:
        if record["record"] == kind:
            record["digest"] = "0" * 32
    with pytest.raises(FileError, match=rf"this {kind} can't be taken in \(its"):
        merged(fresh, records)


def test_what_belongs_to_it_fails_and_nothing_is_changed(full, fresh):
    def fail():
        raise CoachError("the drill file can't be written")

    PracticeBook(fresh).close()
    was = told(fresh)
    with pytest.raises(CoachError, match="drill file"):
        merged(fresh, through_json(leaving_records(full)), before_end=fail)
    assert told(fresh) == was


def test_a_book_that_can_t_be_written(full, tmp_path):
    blocked = tmp_path / "file"
    blocked.write_text("")
    with pytest.raises(CoachError, match="can't be written"):
        merged(blocked / "book.sqlite", through_json(leaving_records(full)))


def test_a_take_that_can_t_be_read_is_left_out(tmp_path):
    path = tmp_path / "book.sqlite"
    fill(path, takes=3)
    with PracticeBook(path) as book:
        book.rewrite(lambda db: db.execute("UPDATE evidence SET take_z = x'00' WHERE take = 2"))
        leaving = Leaving(book, ExportChoice())
        assert len(list(leaving.take_records())) == 2
        assert leaving.left_out[0].startswith("take 2 can't be read")


def test_hostile_records_change_nothing_or_go_in_whole(full, fresh):
    """Records spoiled so that the schema still takes them: only sentences come out."""
    takes = [r for r in through_json(leaving_records(full)) if r["record"] in ("take", "passage")]
    random, outcomes = Random(8), set()
    with PracticeBook(fresh) as book:
        book.rewrite(lambda db: add_player(db, "Ida", IDA.uid))
        for _ in range(120):
            record = hostile(random.choice(takes), random)
            if record is None:
                continue
            before = len(book.take_rows())
            try:
                merge(book, Whose("Ida", IDA.uid), [("line 1", record)], usual_fingerings())
                outcomes.add("in")
            except FileError:
                outcomes.add("refused")
                assert len(book.take_rows()) == before
    assert outcomes == {"in", "refused"}


def hostile(record, random):
    """The record with some numbers and texts changed; None if the schema refuses it."""
    text = json.dumps({**record, "session": None, "uid": f"{random.getrandbits(128):032x}"})
    other = spoiled(text.encode(), text.encode(), random)
    try:
        found = json.loads(other)
        check_record(found)
    except ValueError:
        return numbers_changed(json.loads(text), random)
    return found


def numbers_changed(record, random):
    record = copy.deepcopy(record)
    holders = [record]
    for holder in holders:
        inner = holder.values() if isinstance(holder, dict) else holder
        holders += [one for one in inner if isinstance(one, dict | list)]
    for _ in range(random.randint(1, 3)):
        holder = random.choice(holders)
        keys = list(holder) if isinstance(holder, dict) else list(range(len(holder)))
        if keys:
            key = random.choice(keys)
            if isinstance(holder[key], int | float | str | None):
                holder[key] = random.choice([0, 1, -1, 10**11, 1e11, "0", "1/999", "7", None, True])
    try:
        check_record(record)
    except ValueError:
        return None
    return record


@pytest.mark.parametrize("seed", range(20))
def test_a_take_is_the_same_after_any_number_of_trips(seed):
    take = played(Random(seed), notes=5 + seed)
    text = take_to_json(take)
    data = json.loads(json.dumps(json.loads(text), ensure_ascii=False))
    assert take_from_data(data) == take
    assert json.dumps(data, separators=(",", ":")) == text


@posix
def test_killed_in_the_middle_it_has_all_or_nothing(tmp_path):
    program = [sys.executable, "-m", "tests.book.killed_merge", str(tmp_path)]
    done = subprocess.run(program, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    nothing, everything = map(int, done.stdout.split())
    assert nothing >= 3
    assert everything >= 1
