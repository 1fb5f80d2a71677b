"""Golden screens: what is drawn today against the pictures kept in tests/data/screens."""

from __future__ import annotations

import pytest

from tests.screen import shots

KEPT = sorted(path.stem for path in shots.FOLDER.glob("*.txt"))
DRAWN = shots.all_shots()


def test_every_picture_is_kept_and_no_other() -> None:
    assert KEPT
    assert sorted(DRAWN) == KEPT


@pytest.mark.parametrize("name", KEPT)
def test_picture(name: str) -> None:
    kept = (shots.FOLDER / f"{name}.txt").read_text(encoding="utf-8")
    assert DRAWN[name] == kept, "if the change is meant: python -m tests.screen.shots"
