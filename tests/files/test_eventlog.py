"""The event log: a line as it happens, whatever becomes of the disk."""

from __future__ import annotations

import json
import math
from pathlib import Path

import pytest

from coach.errors import FileError
from coach.files.eventlog import EventLog, read_events


def test_each_event_is_there_at_once(tmp_path):
    path = tmp_path / "events.jsonl"
    with EventLog(path) as log:
        for k in range(3):
            log.write({"event": "verdict", "index": k, "title": "F♯ and\na new line"})
            lines = path.read_text(encoding="utf-8").splitlines()
            assert len(lines) == k + 1
            assert json.loads(lines[-1])["index"] == k
    assert [event["index"] for event in read_events(path)] == [0, 1, 2]
    assert read_events(path)[0]["title"] == "F♯ and\na new line"


def test_numbers_without_a_word_in_json(tmp_path):
    path = tmp_path / "events.jsonl"
    with EventLog(path) as log:
        log.write({"a": math.nan, "b": [1.5, -math.inf], "c": ({"d": math.inf},)})
    assert read_events(path) == [{"a": None, "b": [1.5, None], "c": [{"d": None}]}]


def test_unwritable_places(tmp_path):
    for path in (tmp_path, tmp_path / "no" / "such.jsonl", "a\0b"):
        with pytest.raises(FileError, match="events can't be written there"):
            EventLog(path)


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is always full")
def test_a_full_disk_is_told_once_and_the_session_goes_on():
    warnings: list[str] = []
    with EventLog("/dev/full", warnings.append) as log:
        for k in range(3):
            log.write({"event": "verdict", "index": k})
    assert len(warnings) == 1
    assert warnings[0].startswith("/dev/full: the event log stops here (no space left")


def test_a_log_cut_off_while_being_written(tmp_path):
    path = tmp_path / "events.jsonl"
    path.write_text('{"event": "a"}\n{"event": "b"}\n{"eve')
    assert [event["event"] for event in read_events(path)] == ["a", "b"]


@pytest.mark.parametrize("line", ["nonsense", "[1]", "", "{" * 100_000])
def test_what_is_no_event(tmp_path, line):
    path = tmp_path / "events.jsonl"
    path.write_text('{"event": "a"}\n' + line + "\n")
    with pytest.raises(FileError, match=r"events\.jsonl, line 2: this is not an event"):
        read_events(path)


def test_unreadable_logs(tmp_path):
    (tmp_path / "binary").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(FileError, match="not an event log"):
        read_events(tmp_path / "binary")
    with pytest.raises(FileError, match="can't be read"):
        read_events(tmp_path / "none")


@pytest.mark.parametrize("older", ["", '{"event": "take_start"}\n', '\ufeff{"event": "x"}\n'])
def test_an_older_log_is_written_over(tmp_path, older):
    path = tmp_path / "events.jsonl"
    path.write_text(older, "utf-8")
    with EventLog(path) as log:
        log.write({"event": "new"})
    assert read_events(path) == [{"event": "new"}]


@pytest.mark.parametrize("other", ["SQLite format 3", "title = 'x'", "[1]", '{"notes": []}', " "])
def test_no_other_file_is_written_over(tmp_path, other):
    path = tmp_path / "events.jsonl"
    path.write_text(other)
    with pytest.raises(FileError, match="no event log"):
        EventLog(path)
    assert path.read_text() == other
