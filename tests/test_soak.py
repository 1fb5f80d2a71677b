"""The short soak: some minutes of practice in one process, as fast as it goes.

The long ones: `python -m tests.soak` (eight hours, 20 times as fast) and `--card` (an hour).
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from itertools import islice

from tests.soak.__main__ import ROOT, result
from tests.soak.kept import checked
from tests.soak.life import sessions
from tests.soak.watch import Held, growth, watched


def test_sessions_end_in_order_and_the_book_holds_all_their_takes(tmp_path):

    log = tmp_path / "sessions"
    with log.open("w") as out:
        env = {**os.environ, "COACH_HOME": str(tmp_path)}
        life = subprocess.Popen(
            [sys.executable, "-m", "tests.soak.life", "0.06", "0", "2"],
            cwd=ROOT, env=env, stdout=out, text=True,
        )  # fmt: skip
        seen = watched(life, 0.5, lambda held: None)
    told = [json.loads(line) for line in log.read_text().splitlines()]
    assert life.returncode == 0
    takes = sum(one["takes"] for one in told)
    assert takes > 6
    assert result(told, tmp_path).endswith(f"ok, 0 orphans, {takes} takes kept of {takes}")
    if sys.platform == "linux":
        assert max(one.files for one in seen) < 30


def test_growth_is_counted_from_the_first_quarter_on():
    seen = [Held(60.0 * k, 100 + 10 * min(k, 10), 8 + (k > 30), 2) for k in range(41)]
    assert growth(seen).startswith("memory 200 -> 200 MB (most 200), files 8 -> 9, threads 2 -> 2")


def test_a_book_that_is_not_whole_is_told(tmp_path):
    from coach.book.practice import PracticeBook

    with PracticeBook(tmp_path / "practice.sqlite"):
        pass
    assert checked(tmp_path, 3) == "book: ok, 0 orphans, 0 takes kept of 3"


def test_every_command_of_the_day_is_one(tmp_path):
    """The short soak ends before the last of them."""
    from coach.cli import whole_parser

    day = list(islice(sessions(tmp_path, 2), 6))
    assert {words[0] for words in day} == {"drill", "tutti", "review", "today"}
    for words in day:
        whole_parser().parse_args(words)
