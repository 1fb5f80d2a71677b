"""One warm-up in full, read over by hand; after a change that is meant write it anew:
python -m tests.core.warmup.test_golden."""

from __future__ import annotations

from pathlib import Path

from coach.core.warmup import comfortable_of, plan_warmup
from coach.files.configs import load_instrument
from coach.files.warmup import load_warmup
from tests.core.courses import text_of

PATH = Path(__file__).parents[2] / "data" / "courses" / "warmup-20-double-horn.txt"


def _text() -> str:
    horn = load_instrument("double-horn")
    course = plan_warmup(
        horn, minutes=20, day_seed=3, comfortable=comfortable_of(horn), limits=load_warmup()
    )
    return text_of(course, horn)


def test_the_warmup_of_day_three():
    assert _text() == PATH.read_text("utf-8")


if __name__ == "__main__":
    PATH.write_text(_text(), "utf-8")
