"""configs/planning.toml: the gaps, the minutes, the way to the concert, load and rest."""

from __future__ import annotations

from pathlib import Path

from coach.core.planning import Concert, Gaps, Load, PlanningSettings, Progress, Sharing
from coach.files.configs import data_folder
from coach.files.toml import Table, read_toml


def load_planning() -> PlanningSettings:
    """The settings that come with the coach."""
    return read_planning(data_folder("configs") / "planning.toml")


def read_planning(path: Path) -> PlanningSettings:
    """FileError where a figure is missing or wrong."""
    table = Table(read_toml(path), path)
    settings = PlanningSettings(
        gaps=_gaps(table.table("gaps")),
        sharing=_sharing(table.table("sharing")),
        progress=_progress(table.table("progress")),
        concert=_concert(table.table("concert")),
        load=_load(table.table("load")),
    )
    table.finish()
    return settings


def _gaps(table: Table) -> Gaps:
    gaps = Gaps(
        first_days=table.number("first_days", 1, 30),
        growth=table.number("growth", 1, 5),
        longest_days=table.number("longest_days", 1, 365),
        concert_share=table.number("concert_share", 0.05, 1),
        stale_days=table.whole("stale_days", 2, 365),
    )
    table.finish()
    return gaps


def _sharing(table: Table) -> Sharing:
    shortest = table.whole("shortest_minutes", 1, 10)
    visit = table.whole("visit_minutes", shortest, 60)
    sharing = Sharing(
        # Twice the shortest, so that any longer turn can be cut in two.
        turn_minutes=table.whole("turn_minutes", 2 * shortest, 30),
        shortest_minutes=shortest,
        visit_minutes=visit,
        most_minutes=table.whole("most_minutes", visit, 120),
        check_minutes=table.whole("check_minutes", 1, 10),
        keep_minutes=table.whole("keep_minutes", 1, 10),
        check_share=table.number("check_share", 0, 1),
        keep_share=table.number("keep_share", 0, 1),
        most_new=table.whole("most_new", 1, 20),
    )
    table.finish()
    return sharing


def _progress(table: Table) -> Progress:
    progress = Progress(
        gain_percent=table.number("gain_percent", 0.1, 20),
        session_minutes=table.number("session_minutes", 1, 60),
        sessions=table.number("sessions", 0.5, 100),
        least_percent=table.number("least_percent", 0.05, 5),
        recent_sessions=table.whole("recent_sessions", 1, 100),
        reserve_percent=table.number("reserve_percent", 0, 20),
        start_share=table.number("start_share", 0.2, 1),
        begin_share=table.number("begin_share", 0.2, 1),
        practice_share=table.number("practice_share", 0.1, 1),
    )
    table.finish()
    return progress


def _concert(table: Table) -> Concert:
    light = table.whole("light_days", 0, 7)
    concert = Concert(
        margin_days=table.whole("margin_days", light, 30),
        light_days=light,
        horizon_days=table.whole("horizon_days", 7, 365),
        day_minutes=table.number("day_minutes", 1, 600),
    )
    table.finish()
    return concert


def _load(table: Table) -> Load:
    load = Load(
        rest_ratio=table.number("rest_ratio", 1, 5),
        growth=table.number("growth", 0, 0.5),
        # `core.planning.load` compares weeks: two at the least.
        usual_days=table.whole("usual_days", 14, 60),
        fewest_days=table.whole("fewest_days", 1, 14),
        heavy_ratio=table.number("heavy_ratio", 1, 5),
        light_share=table.number("light_share", 0.1, 1),
        least_minutes=table.number("least_minutes", 0, 60),
        most_minutes=table.number("most_minutes", 1, 240),
    )
    table.finish()
    return load
