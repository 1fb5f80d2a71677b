"""Odd values: what a file, a hand or a broken program may put where something else was meant."""

from __future__ import annotations

import copy
import json
import re
from random import Random
from typing import Any

TEXTS = (
    "",
    " ",
    "x",
    "-",
    "../../../x",
    "/etc/hostname",
    "con",
    "a\0b",
    "\x1b[2J\x1b]0;x\x07",
    "‮drow",
    "\ud800",
    "\n",
    "C4 1/0",
    "1/99999999999999999999",
    "[bold]x[/bold]",
    "<script>x</script>",
    "'; DROP TABLE takes; --",
    "NaN",
    "9" * 400,
    "ſ" * 3000,
    "٣",
)
NUMBERS = (
    0,
    -1,
    1,
    3,
    127,
    128,
    2**31,
    2**63,
    -(2**63) - 1,
    10**400,
    0.5,
    -0.0,
    1e-320,
    1e308,
    -1e308,
    float("nan"),
    float("inf"),
    float("-inf"),
)


def value(random: Random, depth: int = 0) -> Any:
    """Any JSON value."""
    kinds = ["text", "number", "word"] + (["list", "object"] if depth < 3 else [])
    match random.choice(kinds):
        case "text":
            return random.choice(TEXTS)
        case "number":
            return random.choice(NUMBERS)
        case "word":
            return random.choice([None, True, False])
        case "list":
            return [value(random, depth + 1) for _ in range(random.randrange(4))]
    return {random.choice(TEXTS): value(random, depth + 1) for _ in range(random.randrange(3))}


def spoiled(data: Any, random: Random, changes: int = 2) -> Any:
    """Plain data with up to so many places lost, doubled, or with something else in them."""
    data = copy.deepcopy(data)
    for _ in range(random.randint(1, changes)):
        data = _changed(data, random)
    return data


def _changed(data: Any, random: Random) -> Any:
    """One place of it, near the top or deep inside."""
    if not isinstance(data, dict | list) or not data or random.random() < 0.1:
        return value(random)
    key = random.choice(list(data)) if isinstance(data, dict) else random.randrange(len(data))
    match random.random():
        case share if share < 0.15:
            del data[key]
        case share if share < 0.25 and isinstance(data, list):
            data.insert(key, copy.deepcopy(data[random.randrange(len(data))]))
        case share if share < 0.25:
            data[random.choice(TEXTS)] = value(random)
        case share if share < 0.5:
            data[key] = value(random)
        case _:
            data[key] = _changed(data[key], random)
    return data


def as_json(data: Any, random: Random) -> str:
    """As text, now and then not quite JSON."""
    text = json.dumps(data, ensure_ascii=random.random() < 0.5)
    match random.randrange(12):
        case 0:
            return text[: random.randrange(len(text) + 1)]
        case 1:
            return "[" * random.choice([3, 100_000]) + text
        case 2:
            at = random.randrange(len(text) + 1)
            return text[:at] + random.choice(TEXTS) + text[at:]
        case 3:
            return re.sub(r"\d+", "9" * 5000, text, count=1)
    return text


def write_text(path: Any, text: str, random: Random) -> None:
    """The text as bytes, lone surrogates and all; now and then in another encoding."""
    code = "utf-16" if random.random() < 0.03 else "utf-8"
    path.write_bytes(text.encode(code, "surrogatepass"))
