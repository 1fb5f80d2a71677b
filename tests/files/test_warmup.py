"""configs/warmup.toml: every figure with its reason, and what is said of a wrong one."""

from __future__ import annotations

import pytest

from coach.core.warmup import KINDS
from coach.files.configs import data_folder
from coach.files.warmup import load_warmup, read_warmup
from tests.files.mistakes import said_of

TEXT = (data_folder("configs") / "warmup.toml").read_text("utf-8")


def test_what_comes_with_the_coach():
    limits = load_warmup()
    assert {kind.kind for kind in limits.kinds} == set(KINDS)
    # Common practice, no source: rest as long as you play.
    assert limits.rest_ratio >= 1
    assert limits.blowing_share <= 0.5
    shares = {kind.kind: kind.share for kind in limits.kinds}
    # What is loud or high is the least of it.
    assert max(shares["range"], shares["swells"]) < min(
        share for kind, share in shares.items() if kind not in ("range", "swells")
    )


def test_every_figure_has_its_reason():
    """Beside it, or in the comment above it."""
    lines = TEXT.splitlines()
    for number, line in enumerate(lines):
        if "=" in line and not line.startswith(("#", "from_minutes")):
            assert "#" in line or lines[number - 1].startswith("#"), line


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("rest_ratio = 1.0", "", "rest_ratio is missing"),
        ("rest_ratio = 1.0", "rest_ratio = -1", "rest_ratio is -1; it must be a number from 0"),
        ("[kinds.slurs]", "[kinds.slur]", 'there is no kind "slur"; did you mean slurs'),
        ("share = 0.04", "share = 4", "kinds.range.share is 4; it must be a number"),
        ("tempo_bpm = 66", "tempo = 66", "kinds.slurs.tempo_bpm is missing"),
        ("[kinds.weak]", "[kinds.weak]\ntempo_bpm = 60", "unknown key kinds.weak.tempo_bpm"),
        ("from_minutes = 5\n", "from_minutes = 6\n", "no kind but weak and range is there from 5"),
        ("rest_ratio = 1.0", "rest_ratio = 1.0\nloud = 1", "unknown key loud = 1"),
    ],
)
def test_mistakes_are_named(tmp_path, old, new, message):
    assert message in said_of(read_warmup, tmp_path, TEXT, old, new)
