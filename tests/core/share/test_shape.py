"""Checks made out of a schema: what each word asks for, and that none is overlooked."""

from __future__ import annotations

import math

import pytest

from coach.core.share.shape import ShapeError, checker


def fits(schema, value) -> bool:
    try:
        checker({"$defs": {"it": schema}}, "it")(value)
    except ShapeError:
        return False
    return True


@pytest.mark.parametrize(
    ("schema", "good", "bad"),
    [
        ({"type": "integer"}, [0, -3], [1.0, True, "1", None]),
        ({"type": "number"}, [0, 1.5], [False, "1", None]),
        ({"type": ["boolean", "null"]}, [True, None], [0, "no"]),
        ({"const": 1}, [1], [True, 1.0, 2]),
        ({"enum": ["a", "b"]}, ["a"], ["c", None, ["a"]]),
        ({"type": "number", "minimum": 0, "maximum": 9}, [0, 9], [-1, 9.1, math.nan, math.inf]),
        ({"type": "string", "minLength": 1, "maxLength": 2}, ["a", "ab"], ["", "abc"]),
        ({"type": "string", "pattern": "^[a-z]*$"}, ["", "ab"], ["A", "a\n"]),
        (
            {"type": "array", "items": {"type": "null"}, "maxItems": 1},
            [[], [None]],
            [[1], [None] * 2],
        ),
        (
            {
                "type": "array",
                "prefixItems": [{"type": "null"}, {"type": "string"}],
                "items": False,
                "minItems": 2,
                "maxItems": 2,
            },
            [[None, "a"]],
            [[None], [None, 1], [None, "a", 1]],
        ),
        (
            {
                "type": "object",
                "properties": {"a": {"type": "null"}, "b": {"type": "null"}},
                "required": ["a"],
                "additionalProperties": False,
            },
            [{"a": None}, {"a": None, "b": None}],
            [{}, {"b": None}, {"a": 1}, {"a": None, "c": None}, []],
        ),
        (
            {
                "type": "object",
                "propertyNames": {"maxLength": 1},
                "additionalProperties": {"type": "null"},
            },
            [{}, {"x": None}],
            [{"xy": None}, {"x": 1}],
        ),
    ],
)
def test_words(schema, good, bad):
    assert [value for value in good if not fits(schema, value)] == []
    assert [value for value in bad if fits(schema, value)] == []


def test_the_place_is_told():
    note = {
        "type": "object",
        "properties": {"n": {"type": "integer"}},
        "additionalProperties": False,
    }
    schema = {
        "$defs": {
            "it": {
                "type": "object",
                "properties": {"notes": {"type": "array", "items": note, "maxItems": 9}},
                "required": ["notes"],
                "additionalProperties": False,
            }
        }
    }
    check = checker(schema, "it")
    with pytest.raises(ShapeError) as error:
        check({"notes": [{"n": 1}, {"n": "\x1b[2J"}]})
    assert str(error.value) == 'notes.2.n is "?[2J"; it must be a whole number'
    with pytest.raises(ShapeError, match=r"^has no notes$"):
        check({})
    with pytest.raises(ShapeError, match=r"^what is unknown$"):
        check({"notes": [], "what": 1})


@pytest.mark.parametrize(
    "schema",
    [
        {"type": "integer", "multipleOf": 2},
        {"type": "object", "properties": {}, "additionalProperties": True},
    ],
)
def test_a_word_that_is_not_known_is_never_overlooked(schema):
    with pytest.raises(ValueError, match=r"unknown words|may be"):
        checker({"$defs": {"it": schema}}, "it")
