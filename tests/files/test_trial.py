"""configs/trial.toml."""

from __future__ import annotations

from dataclasses import fields

import pytest

from coach.core.trial import TrialSettings
from coach.errors import FileError
from coach.files.configs import data_folder
from coach.files.trial import load_settings, read_settings

PATH = data_folder("configs") / "trial.toml"


def test_the_file_gives_every_figure_as_the_core_has_it():
    assert load_settings() == TrialSettings()
    text = PATH.read_text(encoding="utf-8")
    assert all(f"\n{field.name} = " in text for field in fields(TrialSettings))


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("false_share = 0.05", "false_share = 0.9", "false_share is 0.9; it must be a number from"),
        ("less_clean_share = 0.8", "less_clean_share = 0.9", "less_clean_share is 0.9"),
        ("pairs_at_16 = 30", "pairs_at_16 = 3", "a whole number from 12 to 60"),
        ("repeats = 3", "", "repeats is missing"),
        ("repeats = 3", "repeats = 3\nrepeat = 2", "unknown key repeat = 2; did you mean repeats"),
    ],
)
def test_a_wrong_figure_is_named(tmp_path, old, new, message):
    path = tmp_path / "trial.toml"
    path.write_text(PATH.read_text(encoding="utf-8").replace(old, new), encoding="utf-8")
    with pytest.raises(FileError) as caught:
        read_settings(path)
    assert message in str(caught.value)
