"""Ceilings of scales and of tonguing on the screen."""

from __future__ import annotations

from rich.console import Console

from coach.core.profile.ceilings import Ceilings, KindCeiling
from coach.core.review import review_of
from coach.screen.ceilings import ceilings_lines
from coach.screen.review import review_page
from tests.bed.practised import FIRST_DAY, Row


def shown(scales: dict[str, KindCeiling], tonguing: dict[str, KindCeiling]) -> list[str]:
    return [line.plain for line in ceilings_lines(Ceilings(scales, tonguing))]


def test_scales_and_tonguing_in_notes_a_second():
    one = KindCeiling(9.12, 8.77, 9.44, 2, 31)
    assert shown({"G major": one}, {"ta ka": one})[-2:] == [
        "  Scales: G major 9.1 (8.8-9.4)",
        "  Tonguing: ta ka 9.1 (8.8-9.4)",
    ]
    assert shown({}, {"ta ka": one})[1] == "  ceilings in notes a second, the slowest first:"
    assert shown({}, {"ta ka": one})[-1:] == ["  Tonguing: ta ka 9.1 (8.8-9.4)"]
    assert shown({}, {}) == []


def test_of_many_scales_the_first_are_named():
    kinds = {f"{key} major": KindCeiling(7, 6, 8, 1, 9) for key in "CDEFGA"}
    (line,) = shown(kinds, {})[2:]
    assert line == (
        "  Scales: C major 7.0 (6.0-8.0), D major 7.0 (6.0-8.0), E major 7.0 (6.0-8.0),"
        " F major 7.0 (6.0-8.0) and 2 more"
    )


def test_they_are_part_of_the_review():
    rows = [Row(FIRST_DAY, "run", bpm, 30, 32) for bpm in range(80, 100, 4)]
    console = Console(width=100, color_system=None)
    with console.capture() as capture:
        console.print(review_page(review_of(rows, FIRST_DAY, {}), [], "Go on."))
    assert "Scales: G major 6." in capture.get()
