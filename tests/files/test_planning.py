"""configs/planning.toml: every figure with its reason, and what is said of a wrong one."""

from __future__ import annotations

import pytest

from coach.files.configs import data_folder
from coach.files.planning import load_planning, read_planning
from tests.files.mistakes import said_of

TEXT = (data_folder("configs") / "planning.toml").read_text("utf-8")


def test_what_comes_with_the_coach():
    settings = load_planning()
    # Cepeda et al. 2008: 10 to 20 % where the test is some weeks away.
    assert 0.1 <= settings.gaps.concert_share <= 0.2
    # Carter and Grahn 2016 had turns of 3 minutes against blocks of 12.
    assert 3 <= settings.sharing.turn_minutes < 12
    # Common practice, no source: rest as long as you play, a week 10 to 20 % longer at most.
    assert settings.load.rest_ratio >= 1
    assert 0.1 <= settings.load.growth <= 0.2
    assert settings.concert.margin_days > settings.concert.light_days


def test_every_figure_has_its_reason_and_its_source():
    for line in TEXT.splitlines():
        if "=" in line and not line.startswith("#"):
            assert line.rstrip().endswith(")"), line
            assert any(source in line for source in ("CE", "SI", "CG", "CP", "DJ")), line


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("growth = 2 ", "growth = 0.5 ", "gaps.growth is 0.5; it must be a number from 1 to 5"),
        ("first_days = 1 ", "", "gaps.first_days is missing"),
        ("turn_minutes = 5 ", "turn_minutes = 3 ", "turn_minutes is 3; it must be a whole number"),
        (
            "margin_days = 4 ",
            "margin_days = 1 ",
            "margin_days is 1; it must be a whole number from 2",
        ),
        ("rest_ratio = 1.0", "rest_ratio = 0.5", "load.rest_ratio is 0.5; it must be a number"),
        ("[load]", "[lode]", "load.rest_ratio is missing"),
        ("[load]", "[load]\nrest = 2", "unknown key load.rest = 2"),
        ("[gaps]", "days = 3\n[gaps]", "unknown key days = 3"),
    ],
)
def test_mistakes_are_named(tmp_path, old, new, message):
    assert message in said_of(read_planning, tmp_path, TEXT, old, new)
