"""A take as it stands in the book: read again whole, or not at all."""

from __future__ import annotations

import json
import zlib
from random import Random

import pytest

from coach.book.records import MOST_BYTES, packed, take_from_json, take_to_json, unpacked
from tests.book.making import take_of
from tests.sharing import played


def test_what_was_written_is_read():
    for take in (take_of(), played(Random(1)), played(Random(2), rate=44_100)):
        assert take_from_json(unpacked(packed(take_to_json(take)))) == take


def changed(path: str, value: object) -> str:
    data = json.loads(take_to_json(take_of()))
    *way, last = path.split("/")
    at = data
    for step in way:
        at = at[int(step) if step.isdigit() else step]
    at[int(last) if last.isdigit() else last] = value
    return json.dumps(data)


@pytest.mark.parametrize(
    ("path", "value"),
    [
        ("attacks/0/frame", "5"),
        ("attacks/0/frame", 1.5),
        ("attacks/0/frame", 10**30),
        ("attacks/0/pitch", float("nan")),
        ("attacks/0/level_db", float("inf")),
        ("attacks/0/fine", 1),
        ("attacks/0/more", 1),
        ("attacks/0", []),
        ("attacks", 5),
        ("gaps/0/cause", None),
        ("number", True),
        ("plan/rate", 0),
        ("plan/dues/1/pitch", None),
        ("plan/dues/1/index", 0),
        ("plan/exercise/tempo_bpm", 0),
        ("plan/exercise/click/subdivision", 0),
        ("plan/exercise/click/count_in_bars", 10**9),
        ("plan/exercise/click/off_bars", [1]),
        ("plan/exercise/click/off_bars", ["1", "2"]),
        ("plan/exercise/passage/bar_beats", "0"),
        ("plan/exercise/passage/bar_beats", "1/100000000000000000"),
        ("plan/exercise/passage/bar_beats", 4),
        ("plan/exercise/passage/notes/0/start_beats", "1e999999999"),
        ("plan/exercise/passage/notes/0/start_beats", "1/0"),
        ("plan/exercise/passage/notes/0/syllable", ["ta"]),
        ("plan/exercise/passage", None),
    ],
)
def test_a_value_of_another_kind_makes_it_none(path, value):
    with pytest.raises(ValueError, match=r"."):
        take_from_json(changed(path, value))


@pytest.mark.parametrize("text", ["", "null", "[]", "{}", "[" * 100_000, '{"plan": {}}'])
def test_what_is_no_take_at_all(text):
    with pytest.raises(ValueError, match=r"."):
        take_from_json(text)


def test_what_is_not_packed_cut_off_or_a_bomb():
    whole = packed("x" * 1000)
    for data in (b"", b"no", whole[:-3], 5, None, packed("\0" * (MOST_BYTES + 1))):
        with pytest.raises(ValueError, match=r"."):
            unpacked(data)
    with pytest.raises(ValueError, match="utf-8"):
        unpacked(zlib.compress(b"\xff"))
