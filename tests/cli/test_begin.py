"""`coach` alone: the way in for a newcomer, what today asks of a player."""

from __future__ import annotations

import argparse
import contextlib
import shutil
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest

from coach.book.practice import PracticeBook
from coach.cli import begin, main, opening
from coach.cli.record import own_book, recorded
from coach.cli.today import MINUTES, drill_command, plan_of
from coach.files.calibration import Calibration, store_delay, store_round_trip
from coach.files.configs import own_folder
from coach.ports.clock import day_number
from tests.cli.test_bad_input import coach
from tests.page.month import PASSAGES, keep_month

HEAVY = ("numpy", "scipy", "aubio", "rich", "sounddevice", "verovio", "rtmidi")


@pytest.fixture(scope="module")
def books(tmp_path_factory):
    """Books of a month's practice, up to yesterday and up to today."""
    folder = tmp_path_factory.mktemp("books")
    for ago in (0, 1):
        keep_month(folder / f"{ago}.sqlite", day_number() - ago, PASSAGES[-2:])
    return folder


def keep(books: Path, ago: int) -> None:
    own_folder().mkdir(parents=True, exist_ok=True)
    shutil.copy(books / f"{ago}.sqlite", own_folder() / "practice.sqlite")


def alone(capsys, monkeypatch, columns=120) -> list[str]:
    monkeypatch.setenv("COLUMNS", str(columns))
    assert main([]) == 0
    return capsys.readouterr().out.splitlines()


def test_a_newcomer_is_led_to_demo_check_and_warmup(capsys, monkeypatch, tmp_path):
    monkeypatch.delenv("COACH_HOME")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    head, *steps, foot = alone(capsys, monkeypatch)
    assert head.startswith("Nothing has been played yet.")
    assert [step[:18].split()[:3] for step in steps] == [
        ["1", "coach", "demo"],
        ["2", "coach", "check"],
        ["3", "coach", "warmup"],
    ]
    assert "scales-one-octave" in steps[2]
    assert foot.endswith("coach help")
    assert not own_folder().exists() or not list(own_folder().iterdir())


@pytest.mark.parametrize("home", ["none", "file", "."])
def test_a_book_that_is_not_where_it_was_put_is_asked_after(capsys, monkeypatch, tmp_path, home):
    """Its drive may not be plugged in, and the player no newcomer."""
    (tmp_path / "file").write_text("a file")
    monkeypatch.setenv("COACH_HOME", str(tmp_path / home))
    told = " ".join(" ".join(alone(capsys, monkeypatch)).split())
    there = "if it should be there, plug the drive in or set COACH_HOME."
    assert told.startswith(f"No practice book in {tmp_path / home}: {there}")
    assert "1 coach demo" in told


def test_a_check_that_was_done_is_not_asked_for_again(capsys, monkeypatch):
    store_delay("Keys", Calibration(0.01, 0.1, 48000))
    assert "(once)" in " ".join(alone(capsys, monkeypatch))
    store_round_trip("In", "Out", Calibration(0.01, 0.1, 48000))
    assert "(done" in " ".join(alone(capsys, monkeypatch))


def test_an_empty_book_is_that_of_a_newcomer(capsys, monkeypatch):
    own_folder().mkdir(parents=True, exist_ok=True)
    PracticeBook(own_folder() / "practice.sqlite").close()
    head, first, *_ = alone(capsys, monkeypatch)
    assert head.startswith("Nothing has been played yet.")
    assert first.split()[1:3] == ["coach", "demo"]


def test_who_has_not_played_for_long_begins_anew(books, capsys, monkeypatch):
    keep(books, 1)
    monkeypatch.setattr(begin, "LOOKED_AT_DAYS", -1)
    assert alone(capsys, monkeypatch)[0].startswith("Nothing has been played lately.")


def test_the_demo_leads_on_until_something_was_played(books, capsys, monkeypatch):
    monkeypatch.setattr("coach.cli.practice.practise", lambda *_: None)
    assert main(["demo", "--fast", "--takes", "1"]) == 0
    assert capsys.readouterr().out.endswith("Now you: coach check, once, then coach warmup.\n")
    keep(books, 1)
    assert main(["demo", "--fast", "--takes", "1"]) == 0
    assert "Now you" not in capsys.readouterr().out


def test_who_has_not_measured_the_delay_is_told(capsys, monkeypatch):
    card = SimpleNamespace(rate=48000, notice="", open=bool, close=bool, round_trip_frames=-1)
    monkeypatch.setattr(opening, "device_pair", lambda _: ("In", "Out"))
    monkeypatch.setattr("coach.ports.base.open_sound", lambda *_: card)
    args = argparse.Namespace(
        device=None, output_device=None, midi_click=False, midi_clock=False, pedal=None
    )
    with contextlib.ExitStack() as stack:
        opening.microphone(args, None, stack)
    assert card.round_trip_frames == 0
    assert "coach check measures it" in capsys.readouterr().err
    store_round_trip("In", "Out", Calibration(0.01, 0.1, 48000))
    with contextlib.ExitStack() as stack:
        opening.microphone(args, None, stack)
    assert card.round_trip_frames == 480
    assert capsys.readouterr().err == ""


def test_a_player_who_has_not_played_today_warms_up_first(books, capsys, monkeypatch):
    keep(books, 1)
    head, *lines, foot = alone(capsys, monkeypatch)
    assert head.startswith("Today: ")
    assert [line.split()[1:3] for line in lines] == [
        ["coach", "warmup"],
        ["coach", "drill"],
        ["coach", "today"],
    ]
    assert "coach review" in foot
    with own_book() as book:
        plan = plan_of(recorded(book, None), MINUTES, None).to_dict()
        assert book.diary.plan("double-horn") is None, "nothing is written down"
    assert drill_command(plan["blocks"][0]) in lines[1]


def test_the_plan_that_was_made_is_told_as_it_was(books, capsys, monkeypatch):
    keep(books, 1)
    assert main(["today", "--minutes", "7"]) == 0
    made = capsys.readouterr().out
    head, _, block, *_ = alone(capsys, monkeypatch)
    assert head.endswith(" minutes.")
    assert int(head.split()[-2]) <= 7
    assert block.split("  ")[2].strip() in made


def test_what_was_played_today_is_not_asked_again(books, capsys, monkeypatch):
    keep(books, 0)
    told = alone(capsys, monkeypatch)
    assert told == [begin.DONE, begin.WORDS]
    plan = {"blocks": [{"name": "turns"}, {"name": "thirds"}, {"name": "turns"}]}
    assert begin._next_block(plan, ["scales", "turns"]) == {"name": "thirds"}
    assert begin._next_block(plan, ["turns", "thirds"]) is None


def test_many_passages_are_left_to_coach_today(books, capsys, monkeypatch):
    monkeypatch.setattr(begin, "MOST_PASSAGES", 1)
    keep(books, 1)
    assert [line.split()[1:3] for line in alone(capsys, monkeypatch)[1:-1]] == [
        ["coach", "warmup"],
        ["coach", "today"],
    ]


@pytest.mark.parametrize("columns", [24, 40, 60, 80, 200])
def test_it_fits_any_width_and_what_is_typed_stays_whole(books, capsys, monkeypatch, columns):
    keep(books, 1)
    rows = alone(capsys, monkeypatch, columns)
    assert all(len(row) <= max(columns, 50) for row in rows)
    assert any("coach drill " in row and " --from " in row and " --to " in row for row in rows)


def test_it_imports_nothing_heavy(books):
    keep(books, 1)
    script = "import sys; from coach.cli import main; main([]); print(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    assert "coach drill" in done.stdout
    assert not set(HEAVY) & set(done.stdout.split())


def test_from_a_shell():
    done = coach()
    assert done.returncode == 0
    assert done.stderr == ""
    assert "coach demo" in done.stdout
