"""configs/building.toml: every figure with its reason, and what is said of a wrong one."""

from __future__ import annotations

import pytest

from coach.core.building import STEPS
from coach.errors import FileError
from coach.files.building import load_building, read_building
from coach.files.configs import data_folder
from tests.files.mistakes import said_of

TEXT = (data_folder("configs") / "building.toml").read_text("utf-8")


def test_what_comes_with_the_coach():
    settings = load_building()
    assert {step.step for step in settings.steps} == set(STEPS)
    # Common practice, no source: 100 % and 104 to 106 % at the end of the way.
    assert 1.04 <= settings.above_share <= 1.06
    assert settings.rest_ratio >= 1
    assert max(settings.slow_share, settings.end_share) < 1


def test_of_five_days_two_are_early_two_in_the_middle_one_late():
    settings = load_building()
    stages = [settings.stage(day, 5) for day in range(1, 6)]
    assert stages == ["early", "early", "middle", "middle", "late"]
    assert settings.stage(1, 1) == "late"
    assert [settings.stage(day, 2) for day in (1, 2)] == ["early", "late"]


def test_every_figure_has_its_reason():
    """Beside it, or in the comment above it."""
    lines = TEXT.splitlines()
    for number, line in enumerate(lines):
        if "=" in line and not line.startswith(("#", "stages", "most_takes")):
            above = next(one for one in reversed(lines[:number]) if "=" not in one)
            assert "#" in line or above.startswith("#"), line


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("slow_share = 0.6", "", "slow_share is missing"),
        ("above_share = 1.05", "above_share = 0.9", "above_share is 0.9; it must be a number"),
        ("late_share = 0.8", "late_share = 0.2", "late_share is 0.2; it must be a number from 0.4"),
        ("[steps.bursts]", "[steps.burst]", 'there is no step "burst"; did you mean bursts'),
        ('stages = ["early", "middle", "late"]', 'stages = ["early"]', "every day ends with whole"),
        ('["early", "late"]', '["erly"]', 'entry 1, is "erly"; it must be one of early, middle'),
        ("most_takes = 5", "most_takes = 0", "steps.end.most_takes is 0; it must be a whole"),
        ("[steps.end]", "[steps.end]\ntempo = 3", "unknown key steps.end.tempo"),
        ("rest_ratio = 1.0", "rest_ratio = 1.0\nrest = 1", "unknown key rest = 1"),
    ],
)
def test_mistakes_are_named(tmp_path, old, new, message):
    assert message in said_of(read_building, tmp_path, TEXT, old, new)


def test_the_end_must_be_there(tmp_path):
    path = tmp_path / "building.toml"
    path.write_text(TEXT[: TEXT.index("[steps.end]")], "utf-8")
    with pytest.raises(FileError, match="the step end is missing"):
        read_building(path)
