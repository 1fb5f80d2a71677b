"""Ceilings of scales and of tonguing on the screen."""

from __future__ import annotations

from coach.core.profile.ceilings import Ceilings, KindCeiling
from coach.screen.ceilings import ceilings_lines


def shown(scales: dict[str, KindCeiling], tonguing: dict[str, KindCeiling]) -> list[str]:
    return [line.plain for line in ceilings_lines(Ceilings(scales, tonguing))]


def test_scales_and_tonguing_in_notes_a_second():
    one = KindCeiling(9.12, 8.77, 9.44, 2, 31)
    assert shown({"G major": one}, {"ta ka": one})[-2:] == [
        "  Scales: G major 9.1 (8.8-9.4)",
        "  Tonguing: ta ka 9.1 (8.8-9.4)",
    ]
    assert shown({}, {"ta ka": one})[-1:] == ["  Tonguing: ta ka 9.1 (8.8-9.4)"]
    assert shown({}, {}) == []


def test_of_many_scales_the_first_are_named():
    kinds = {f"{key} major": KindCeiling(7, 6, 8, 1, 9) for key in "CDEFGA"}
    (line,) = shown(kinds, {})[2:]
    assert line == (
        "  Scales: C major 7.0 (6.0-8.0), D major 7.0 (6.0-8.0), E major 7.0 (6.0-8.0),"
        " F major 7.0 (6.0-8.0) and 2 more"
    )
