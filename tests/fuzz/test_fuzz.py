"""A few spoiled inputs of each kind; `python -m tests.fuzz --minutes 10` runs many more."""

from __future__ import annotations

from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.book.kinds import made
from coach.core.expected import Expected
from coach.core.take import Attack
from coach.errors import CoachError
from coach.files.eventlog import EventLog, read_events
from tests.fuzz.odd import spoiled, value
from tests.fuzz.plain import said
from tests.fuzz.targets import TARGETS, example

# Of the quick ones more: a second or so for each kind.
COUNTS = {
    "drill": 60, "instrument": 60, "config": 100, "player": 60, "expected": 12, "batch": 4,
    "fingerings": 20, "records": 10, "positions": 60, "events": 40, "calibration": 40, "score": 15,
    "sound-file": 60, "midi": 8, "midi-message": 200, "ears": 16, "tools": 25, "book": 6,
}  # fmt: skip


@pytest.mark.parametrize("name", TARGETS)
def test_nothing_breaks(name, tmp_path):
    for seed in range(COUNTS[name]):
        folder = tmp_path / str(seed)
        folder.mkdir()
        example(name, seed, folder)


def test_an_input_comes_again_from_its_seed():
    data = {"a": [1, 2, {"b": "c"}], "d": None}
    one, two = (repr(spoiled(data, Random("x-7"), 5)) for _ in range(2))
    assert one == two
    assert repr(value(Random(3))) == repr(value(Random(3)))


_JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner, max_size=3),
    max_leaves=8,
)
_NOTE = st.dictionaries(
    st.sampled_from(["onset_s", "duration_s", "midi", "slurred", "syllable", "fingering"]), _JSON
)


@settings(max_examples=50)
@given(st.dictionaries(st.sampled_from(["notes", "anchor", "instrument", "clicks_s"]), _JSON))
def test_any_json_is_expected_notes_or_one_sentence(data):
    _expected(data)


@settings(max_examples=50)
@given(st.lists(_NOTE, min_size=1, max_size=3))
def test_any_notes_are_expected_notes_or_one_sentence(notes):
    _expected({"notes": notes})


def _expected(data: object) -> None:
    try:
        dues = Expected.from_dict(data).dues(48_000)  # type: ignore[arg-type]
    except CoachError as error:
        said(error)
    else:
        assert all(due.length_frames > 0 for due in dues)


@settings(max_examples=50)
@given(st.dictionaries(st.sampled_from(["frame", "pitch", "level_db", "fine", "x"]), _JSON))
def test_any_row_is_an_attack_or_none(row):
    try:
        (attack,) = made(Attack, [row])
    except (ValueError, TypeError):
        return
    assert isinstance(attack.frame, int)


@settings(max_examples=50)
@given(_JSON)
def test_any_event_is_one_line_that_is_read_again(tmp_path_factory, what):
    path = tmp_path_factory.mktemp("events") / "log"
    with EventLog(path) as log:
        log.write({"event": "x", "what": what})
    (event,) = read_events(path)
    assert set(event) == {"event", "what"}
