"""Files of records: all that can be wrong with one is one sentence, with the line."""

from __future__ import annotations

import json
from random import Random

import pytest

from coach.errors import CoachError, FileError
from coach.files.share import lines
from coach.files.share.lines import read_records, write_records
from tests.bed.mutated import spoiled
from tests.sharing import fill, leaving_records

HEADER = {
    "record": "header",
    "format": "evenrun-records",
    "version": 1,
    "purpose": "export",
    "written_by": "coach",
    "made_utc": "2026-11-26T19:17:28.324Z",
    "player": {"name": "Zoë", "uid": "0" * 32, "instruments": [], "chosen": None},
    "assignment": None,
}
GOAL = {
    "record": "goal",
    "drill": "turns",
    "instrument": "double-horn",
    "goal_bpm": 132.5,
    "due": "2027-03-14",
    "set_utc": "2026-11-26T19:17:28.324Z",
    "assignment": None,
}


@pytest.fixture
def path(tmp_path):
    return tmp_path / "records.jsonl"


def read(path, *parts: object) -> list[dict]:
    """What is read of these lines: records, or bytes as they are."""
    texts = [p if isinstance(p, bytes) else json.dumps(p).encode() for p in parts]
    path.write_bytes(b"\n".join(texts) + b"\n")
    return [record for _, record in read_records(path)]


def test_what_was_written_is_read(path):
    assert write_records(path, [HEADER, GOAL]) == []
    assert [record for _, record in read_records(path)] == [HEADER, GOAL]
    assert [where for where, _ in read_records(path)] == [f"{path}, line 1", f"{path}, line 2"]
    assert "Zoë" in path.read_text("utf-8")
    assert list(path.parent.iterdir()) == [path]
    sizes: list[int] = []
    list(read_records(path, sizes.append))
    assert sum(sizes) == path.stat().st_size


@pytest.mark.parametrize(
    ("second", "sentence"),
    [
        (b"{", "line 2: this is not JSON"),
        (b"[1]", "line 2: this is no record"),
        (b"\xff\xfe", "line 2: this is not text in UTF-8"),
        (b"[" * 100_000, "line 2: .*(nested too deep|not JSON)"),
        (b'{"record": "goal", "goal_bpm": NaN}', "NaN is no number"),
        (b'{"record": "goal", "goal_bpm": -Infinity}', "-Infinity is no number"),
        (json.dumps(GOAL).replace("132.5", "1e999").encode(), "goal_bpm is inf"),
        (json.dumps(GOAL).replace("132.5", "9" * 400).encode(), "goal_bpm is 9"),
        (json.dumps(GOAL).replace("132.5", "9" * 5000).encode(), "line 2"),
        ({**GOAL, "record": "spell"}, 'record is "spell"; it must be one of header, drill'),
        ({**GOAL, "record": ["goal"]}, "record is a list"),
        ({**GOAL, "due": "soon"}, 'line 2: due is "soon", which is not allowed here'),
        ({**GOAL, "drill": "../turns"}, "drill is"),
        ({**GOAL, "drill": "\ud800"}, "drill is"),
        ({**GOAL, "more": 1}, "more is unknown"),
        ({k: v for k, v in GOAL.items() if k != "drill"}, "line 2: has no drill"),
        (HEADER, "line 2: this is no file of records"),
    ],
)
def test_a_bad_line(path, second, sentence):
    with pytest.raises(FileError, match=sentence):
        read(path, HEADER, second)


@pytest.mark.parametrize(
    ("first", "sentence"),
    [
        (GOAL, "line 1: this is no file of records"),
        (
            {"title": "any other"},
            "line 1: this is no file of records .*choose one that coach export",
        ),
        ({**HEADER, "version": 2}, "written by a newer coach .version 2."),
        ({**HEADER, "version": 0}, "version is 0"),
        ({**HEADER, "format": "other"}, "format is"),
        ({**HEADER, "player": {"name": "a\x1b[2J"}}, "player"),
        (b"PK\x03\x04", "line 1"),
    ],
)
def test_a_bad_header(path, first, sentence):
    with pytest.raises(FileError, match=sentence):
        read(path, first)


def test_no_file(path, tmp_path):
    for place in (path, tmp_path, tmp_path / "a\0b"):
        with pytest.raises(FileError, match="can't be read"):
            list(read_records(place))
    for content in (b"", b"\n \n"):
        path.write_bytes(content)
        with pytest.raises(FileError, match="this file is empty"):
            list(read_records(path))


def test_blank_lines_are_passed_over_and_counted(path):
    assert read(path, b"", HEADER, b" ", GOAL, b"") == [HEADER, GOAL]
    with pytest.raises(FileError, match="line 4: this is not JSON"):
        read(path, b"", HEADER, b" ", b"{")


def test_no_more_than_the_limits_is_read(path, monkeypatch):
    monkeypatch.setattr(lines, "MAX_LINE_BYTES", 400)
    assert read(path, HEADER, GOAL) == [HEADER, GOAL]
    with pytest.raises(FileError, match="line 2: this line is longer"):
        read(path, HEADER, b" " * 401)
    monkeypatch.setattr(lines, "MAX_LINES", 2)
    with pytest.raises(FileError, match="more than 2 lines"):
        read(path, HEADER, GOAL, GOAL)
    monkeypatch.setattr(lines, "MAX_BYTES", 400)
    with pytest.raises(FileError, match="more than"):
        read(path, HEADER, GOAL)


def test_what_the_reader_would_refuse_is_cleaned_or_left_out(path):
    bell = {**GOAL, "drill": "turns\x07"}
    never = {**GOAL, "goal_bpm": float("nan")}
    far = {**GOAL, "goal_bpm": 1e9}
    left_out = write_records(path, [HEADER, bell, never, far, GOAL])
    assert [record for _, record in read_records(path)] == [
        HEADER,
        {**GOAL, "drill": "turns "},
        GOAL,
    ]
    assert left_out == [
        "a goal was left out: goal_bpm is nan; it must be from 1 to 2000",
        "a goal was left out: goal_bpm is 1000000000.0; it must be from 1 to 2000",
    ]


def test_a_file_is_written_whole_or_not_at_all(path, tmp_path):
    path.write_text("before")

    def broken():
        yield HEADER
        raise CoachError("the book can't be read")

    with pytest.raises(CoachError):
        write_records(path, broken())
    assert path.read_text() == "before"
    assert list(tmp_path.iterdir()) == [path]
    with pytest.raises(FileError, match="can't be written"):
        write_records(tmp_path / "no" / "file.jsonl", [HEADER])


def test_only_sentences_come_out_of_spoiled_files(tmp_path, path):
    fill(tmp_path / "book.sqlite", takes=2)
    write_records(path, leaving_records(tmp_path / "book.sqlite"))
    whole, random = path.read_bytes(), Random(3)
    outcomes = set()
    for _ in range(150):
        path.write_bytes(spoiled(whole, whole, random))
        try:
            list(read_records(path))
            outcomes.add("read")
        except FileError:
            outcomes.add("refused")
    assert outcomes == {"read", "refused"}
