"""Checks made out of a JSON Schema: the words of draft 2020-12 that the records need.

Of a schema word that is not known here nothing is ever overlooked: it is a ValueError.  Stricter
than the standard in two things: 1.0 is no whole number, and a pattern with "$" at its end does not
let a line end through.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

Check = Callable[[Any], None]

_TOLD = {"$schema", "title", "description", "$defs"}
_TYPES: dict[str, tuple[type, ...]] = {
    "object": (dict,),
    "array": (list,),
    "string": (str,),
    "boolean": (bool,),
    "integer": (int,),
    "number": (int, float),
    "null": (type(None),),
}
_WORDS = {
    "object": "an object",
    "array": "a list",
    "string": "text",
    "boolean": "true or false",
    "integer": "a whole number",
    "number": "a number",
    "null": "null",
}
_LONGEST_SHOWN = 40


class ShapeError(ValueError):
    """What is wrong, and under which key."""

    def __init__(self, what: str) -> None:
        super().__init__(what)
        self.what = what
        self.path: list[str] = []

    def __str__(self) -> str:
        return f"{'.'.join(reversed(self.path))} {self.what}".strip()


def checker(schema: dict[str, Any], name: str) -> Check:
    """The check of the definition `name` of a schema: ShapeError for what does not fit it."""
    return _Maker(schema["$defs"]).named(name)


class _Maker:
    """Makes each definition's check once; they may refer to each other."""

    def __init__(self, definitions: dict[str, Any]) -> None:
        self._definitions = definitions
        self._made: dict[str, Check] = {}

    def named(self, name: str) -> Check:
        if name not in self._made:
            self._made[name] = self.made(self._definitions[name])
        return self._made[name]

    def made(self, schema: Any) -> Check:
        if "$ref" in schema:
            return self.named(schema["$ref"].removeprefix("#/$defs/"))
        left = dict(schema)
        for word in _TOLD:
            left.pop(word, None)
        checks = [check for make in _MAKERS for check in [make(self, left)] if check is not None]
        if left:
            raise ValueError(f"unknown words in the schema: {', '.join(left)}")
        return checks[0] if len(checks) == 1 else _all_of(checks)


def _all_of(checks: list[Check]) -> Check:
    def check(value: Any) -> None:
        for one in checks:
            one(value)

    return check


def _type(maker: _Maker, left: dict[str, Any]) -> Check | None:
    if "type" not in left:
        return None
    named = left.pop("type")
    names = [named] if isinstance(named, str) else named
    types = tuple(kind for name in names for kind in _TYPES[name])
    says_bool = "boolean" in names
    allowed = " or ".join(_WORDS[name] for name in names)

    def check(value: Any) -> None:
        # For Python true is a number.
        if not isinstance(value, types) or (isinstance(value, bool) and not says_bool):
            raise ShapeError(f"is {shown(value)}; it must be {allowed}")

    return check


def _values(maker: _Maker, left: dict[str, Any]) -> Check | None:
    if "const" not in left and "enum" not in left:
        return None
    allowed = [left.pop("const")] if "const" in left else left.pop("enum")

    def check(value: Any) -> None:
        if not any(type(value) is type(one) and value == one for one in allowed):
            words = ", ".join(str(one) for one in allowed)
            raise ShapeError(f"is {shown(value)}; it must be {words}")

    return check


def _bounds(maker: _Maker, left: dict[str, Any]) -> Check | None:
    if "minimum" not in left and "maximum" not in left:
        return None
    low, high = left.pop("minimum"), left.pop("maximum")

    def check(value: Any) -> None:
        # Written so that NaN is refused too.
        if isinstance(value, int | float) and not low <= value <= high:
            raise ShapeError(f"is {shown(value)}; it must be from {low:g} to {high:g}")

    return check


def _lengths(maker: _Maker, left: dict[str, Any]) -> Check | None:
    longest, shortest = left.pop("maxLength", None), left.pop("minLength", 0)
    if longest is None:
        return None

    def check(value: Any) -> None:
        if isinstance(value, str) and not shortest <= len(value) <= longest:
            raise ShapeError(f"has {len(value):,} letters; {shortest} to {longest:,} are allowed")

    return check


def _pattern(maker: _Maker, left: dict[str, Any]) -> Check | None:
    if "pattern" not in left:
        return None
    fits = re.compile(left.pop("pattern")).fullmatch

    def check(value: Any) -> None:
        if isinstance(value, str) and not fits(value):
            raise ShapeError(f"is {shown(value)}, which is not allowed here")

    return check


def _items(maker: _Maker, left: dict[str, Any]) -> Check | None:
    most, least = left.pop("maxItems", None), left.pop("minItems", 0)
    if most is None:
        return None
    by_place = [maker.made(one) for one in left.pop("prefixItems", ())]
    of_all = left.pop("items")
    each = maker.made(of_all) if of_all is not False else None

    def check(value: Any) -> None:
        if not isinstance(value, list):
            return
        if not least <= len(value) <= most:
            raise ShapeError(f"has {len(value):,} entries; {least} to {most:,} are allowed")
        place = 0
        try:
            for place, one in enumerate(value):
                (by_place[place] if each is None else each)(one)
        except ShapeError as error:
            error.path.append(str(place + 1))
            raise

    return check


def _properties(maker: _Maker, left: dict[str, Any]) -> Check | None:
    if "properties" not in left:
        return None
    checks = {name: maker.made(one) for name, one in left.pop("properties").items()}
    needed = left.pop("required", [])
    if left.pop("additionalProperties") is not False:
        raise ValueError("named properties are all there may be")

    def check(value: Any) -> None:
        if not isinstance(value, dict):
            return
        for name in needed:
            if name not in value:
                raise ShapeError(f"has no {name}")
        name = ""
        try:
            for name, one in value.items():
                if name not in checks:
                    raise ShapeError("is unknown")
                checks[name](one)
        except ShapeError as error:
            error.path.append(shown(name).strip('"'))
            raise

    return check


def _free_names(maker: _Maker, left: dict[str, Any]) -> Check | None:
    if "propertyNames" not in left:
        return None
    of_name, of_value = maker.made(left.pop("propertyNames")), left.pop("additionalProperties")
    each = maker.made(of_value)

    def check(value: Any) -> None:
        if not isinstance(value, dict):
            return
        for name, one in value.items():
            of_name(name)
            try:
                each(one)
            except ShapeError as error:
                error.path.append(name)
                raise

    return check


_MAKERS = (_type, _values, _bounds, _lengths, _pattern, _items, _properties, _free_names)


def shown(value: object) -> str:
    """A value in a sentence, shortened; nothing that a terminal would obey."""
    if isinstance(value, dict | list):
        return "an object" if isinstance(value, dict) else "a list"
    if isinstance(value, bool) or value is None:
        return {True: "true", False: "false", None: "null"}[value]
    try:
        text = str(value)
    except ValueError:  # a whole number of thousands of digits
        return "far too large"
    if len(text) > _LONGEST_SHOWN:
        text = f"{text[: _LONGEST_SHOWN - 3]}..."
    text = "".join(letter if letter.isprintable() else "?" for letter in text)
    return f'"{text}"' if isinstance(value, str) else text
