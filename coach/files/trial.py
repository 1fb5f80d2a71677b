"""configs/trial.toml: the figures that a trial of two ways rests on."""

from __future__ import annotations

from pathlib import Path

from coach.core.trial import TrialSettings
from coach.files.configs import data_folder
from coach.files.toml import Table, read_toml

MOST_PAIRS = 60


def load_settings() -> TrialSettings:
    """The figures that come with the coach."""
    return read_settings(data_folder("configs") / "trial.toml")


def read_settings(path: Path) -> TrialSettings:
    """FileError where a figure is missing or wrong."""
    table = Table(read_toml(path), path)
    cleaner_share = table.number("cleaner_share", 0.1, 1)
    up_share = table.number("up_share", 0.1, 1)
    settings = TrialSettings(
        false_share=table.number("false_share", 0.001, 0.5),
        hidden_share=table.number("hidden_share", 0.001, 0.5),
        cleaner_share=cleaner_share,
        less_clean_share=table.number("less_clean_share", 0, cleaner_share - 0.02),
        false_power=table.number("false_power", 0.5, 5),
        hidden_power=table.number("hidden_power", 0.5, 5),
        pairs_at_16=table.whole("pairs_at_16", 12, MOST_PAIRS),
        take_variance=table.number("take_variance", 0.02, 1),
        up_share=up_share,
        down_share=table.number("down_share", 0, up_share),
        step_percent=table.number("step_percent", 0, 25),
        slowest_factor=table.number("slowest_factor", 0.1, 1),
        fastest_factor=table.number("fastest_factor", 1, 4),
        heard_share=table.number("heard_share", 0.1, 1),
        repeats=table.whole("repeats", 0, 20),
        tired_notes=table.whole("tired_notes", 8, 1000),
        tired_drop=table.number("tired_drop", 0.01, 1),
    )
    table.finish()
    return settings
