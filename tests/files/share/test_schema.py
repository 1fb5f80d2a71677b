"""The schema is what the standard's own library takes it for, and our reader goes by it."""

from __future__ import annotations

import copy
import json
from random import Random
from typing import Any

import jsonschema
import pytest

from coach.core.share.shape import ShapeError, checker
from coach.files.share.schema import check_record, kinds, schema
from tests.sharing import fill, leaving_records

ODD = [None, True, 0, -1, 1.5, 10**14, 1e300, "", "x", "1/0", "2/3", "a\x1b[2J", "../a", "x" * 3000]
ODD += [[], [1], {}, {"a": 1}, "2027-01-01", "0" * 32, "late", "a.toml", "\ud800", "Zwölf"]


@pytest.fixture(scope="module")
def standard():
    jsonschema.Draft202012Validator.check_schema(schema())
    return jsonschema.Draft202012Validator(schema())


@pytest.fixture(scope="module")
def records(tmp_path_factory) -> list[dict[str, Any]]:
    """One of each kind out of a book, two takes, and a drill."""
    path = tmp_path_factory.mktemp("book") / "book.sqlite"
    fill(path, takes=2)
    found = {record["record"]: record for record in leaving_records(path)}
    found["drill"] = {"record": "drill", "name": "mine", "text": 'title = "x"\n'}
    return list(found.values())


def ours(record: Any) -> bool:
    try:
        check_record(record)
    except ShapeError:
        return False
    return True


def test_each_kind_is_exported_and_fits_the_schema(records, standard):
    assert {record["record"] for record in records} == set(kinds())
    for record in records:
        standard.validate(record)
        assert ours(record)


def test_every_definition_is_one_that_our_checks_know():
    for name in schema()["$defs"]:
        checker(schema(), name)


def places(value: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    inner = value.items() if isinstance(value, dict) else enumerate(value)
    found = [path] if path else []
    for key, one in inner:
        found += places(one, (*path, key)) if isinstance(one, dict | list) else [(*path, key)]
    return found


def mutated(record: dict[str, Any], random: Random) -> dict[str, Any]:
    """A value replaced, left out, or one more put in."""
    record = copy.deepcopy(record)
    *path, last = random.choice(places(record))
    holder = record
    for key in path:
        holder = holder[key]
    choice = random.random()
    if choice < 0.7:
        holder[last] = random.choice(ODD)
    elif choice < 0.85:
        del holder[last]
    elif isinstance(holder, dict):
        holder["more"] = random.choice(ODD)
    else:
        holder.append(random.choice(ODD))
    return record


def test_our_reader_accepts_what_the_schema_accepts(records, standard):
    """On records spoiled at random, the standard's library being the judge."""
    random = Random(5)
    verdicts = []
    for _ in range(500):
        record = mutated(random.choice(records), random)
        verdicts.append(ours(record))
        assert verdicts[-1] == standard.is_valid(record), json.dumps(record)[:3000]
    assert 50 < sum(verdicts) < 450


@pytest.mark.parametrize(
    ("kind", "key", "value"),
    [("header", "version", 1.0), ("goal", "drill", "a\n")],
)
def test_where_our_reader_is_stricter(records, standard, kind, key, value):
    """1.0 is no whole number, and a line end is no end of a text: the only differences."""
    record = next(copy.deepcopy(one) for one in records if one["record"] == kind)
    record[key] = value
    assert not ours(record)
    if key == "version":
        assert standard.is_valid(record)
