"""Three days of one way in full, read over by hand; after a change that is meant write them anew:
python -m tests.core.building.test_golden."""

from __future__ import annotations

from pathlib import Path

from coach.core.building import plan_building
from coach.files.building import load_building
from coach.files.drillshelf import load_drill
from tests.core.courses import text_of

PATH = Path(__file__).parents[2] / "data" / "courses" / "building-written-out.txt"


def _text() -> str:
    drill, horn = load_drill("written-out")
    days = [
        plan_building(
            [drill],
            horn,
            to_bpm=120,
            day=day,
            days=5,
            ceiling_bpm={"written-out": 72.0 + 8 * day},
            seed=1,
            minutes=20,
            settings=load_building(),
        )
        for day in (1, 3, 5)
    ]
    return "\n".join(text_of(day, horn) for day in days)


def test_the_first_the_third_and_the_last_day():
    assert _text() == PATH.read_text("utf-8")


if __name__ == "__main__":
    PATH.write_text(_text(), "utf-8")
