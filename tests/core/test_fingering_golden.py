"""Planned fingerings of our own passages stay as they were when looked at by hand."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest

from coach.core.fingering.ask import problem_of
from coach.core.fingering.planner import plans
from coach.core.fingering.weights import Weights
from coach.files.configs import load_instrument
from tests.core.fingering_making import passage_of

GOLDEN: list[dict[str, Any]] = tomllib.loads(
    (Path(__file__).parent / "fingering_golden.toml").read_text(encoding="utf-8")
)["passage"]


def test_there_are_enough_of_them():
    assert len(GOLDEN) >= 12
    assert {"trumpet", "trombone", "euphonium", "tuba"} < {each["instrument"] for each in GOLDEN}


@pytest.mark.parametrize(
    "golden", GOLDEN, ids=[f"{each['instrument']}: {each['name']}" for each in GOLDEN]
)
def test_planned_as_before(golden):
    instrument = load_instrument(golden["instrument"])
    passage = passage_of(golden["notes"], instrument)
    plan = plans(problem_of(passage, golden["tempo_bpm"], instrument, Weights()))[0]
    found = " ".join(candidate.fingering for candidate in plan.chosen)
    assert found == golden["fingerings"]


@pytest.mark.parametrize("golden", [g for g in GOLDEN if g["tempo_bpm"] >= 100])
def test_no_change_of_side_inside_a_run(golden):
    instrument = load_instrument(golden["instrument"])
    problem = problem_of(
        passage_of(golden["notes"], instrument), golden["tempo_bpm"], instrument, Weights()
    )
    for terms in plans(problem)[0].terms:
        assert terms.get("side_changes", 0.0) < Weights().side_change_in_run
