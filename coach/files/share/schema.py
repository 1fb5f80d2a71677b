"""configs/records.schema.json: what a line of a file of records must be."""

from __future__ import annotations

import json
from functools import cache
from typing import Any

from coach.core.share.shape import Check, ShapeError, checker, shown
from coach.files.configs import data_folder

FORMAT, VERSION = "evenrun-records", 1


@cache
def schema() -> dict[str, Any]:
    """The schema as plain data."""
    path = data_folder("configs") / "records.schema.json"
    found: dict[str, Any] = json.loads(path.read_text("utf-8"))
    return found


def kinds() -> tuple[str, ...]:
    """The kinds of records there are."""
    return tuple(one["$ref"].rpartition("/")[2] for one in schema()["oneOf"])


@cache
def _check(kind: str) -> Check:
    return checker(schema(), kind)


def check_record(record: Any) -> None:
    """ShapeError if it is no record."""
    if not isinstance(record, dict):
        raise ShapeError("this is no record: each line holds one JSON object")
    kind = record.get("record")
    if not isinstance(kind, str) or kind not in kinds():
        raise ShapeError(f"record is {shown(kind)}; it must be one of {', '.join(kinds())}")
    _check(kind)(record)
