"""configs/building.toml: the steps of speed building, their shares and their tempi."""

from __future__ import annotations

from pathlib import Path

from coach.core.building import STAGES, STEPS, BuildingSettings, StepShare
from coach.errors import FileError
from coach.files.configs import data_folder
from coach.files.toml import Table, read_toml

EVERY_STAGE = "all three stages: every day ends with whole runs"


def load_building() -> BuildingSettings:
    """The settings that come with the coach."""
    return read_building(data_folder("configs") / "building.toml")


def read_building(path: Path) -> BuildingSettings:
    """FileError where a figure is missing or wrong, or a step unknown."""
    table = Table(read_toml(path), path)
    early_share = table.number("early_share", 0, 1)
    settings = BuildingSettings(
        steps=_steps(table.table("steps")),
        slow_share=table.number("slow_share", 0.2, 1),
        pieces_share=table.number("pieces_share", 0.2, 1),
        end_share=table.number("end_share", 0.2, 1),
        above_share=table.number("above_share", 1, 1.2),
        start_share=table.number("start_share", 0.2, 1),
        early_share=early_share,
        late_share=table.number("late_share", early_share, 1),
        rest_ratio=table.number("rest_ratio", 0, 5),
        load_minutes=table.number("load_minutes", 1, 60),
        part_minutes=table.number("part_minutes", 1, 30),
    )
    table.finish()
    return settings


def _steps(table: Table) -> tuple[StepShare, ...]:
    names = table.only(STEPS, "step")
    if "end" not in table:
        raise FileError("the step end is missing", str(table.path), f"it must be in {EVERY_STAGE}")
    return tuple(_step(table.table(name), name) for name in names)


def _step(table: Table, name: str) -> StepShare:
    step = StepShare(
        name, table.number("share", 0.01, 1), _stages(table), table.whole("most_takes", 1, 100)
    )
    if name == "end" and set(step.stages) != set(STAGES):
        raise table.wrong("stages", EVERY_STAGE)
    table.finish()
    return step


def _stages(table: Table) -> tuple[str, ...]:
    stages = table.texts("stages", allowed=f"a list of {', '.join(STAGES)}")
    for place, stage in enumerate(stages):
        if stage not in STAGES:
            raise table.wrong_entry("stages", place, f"one of {', '.join(STAGES)}")
    return stages
