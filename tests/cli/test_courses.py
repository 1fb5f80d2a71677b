"""`coach warmup`, `coach build` and `coach trial` whole, on the simulated player, through the real
hearing."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from coach.book.practice import PracticeBook
from coach.core.exercise import Exercise
from coach.core.judge import judge_take
from coach.core.rules import Rules
from coach.core.take import Attack, Take
from coach.core.timeline import plan_take
from coach.files.drillshelf import load_drill
from tests.cli.test_bad_input import coach, refused
from tests.cli.test_demo import events

PLAYER = ("--input", "player", "--fast", "--plain")


def practised(tmp_path, *arguments):
    log = tmp_path / "events.jsonl"
    done = coach(*arguments, *PLAYER, "--events", log, COACH_HOME=str(tmp_path / "home"))
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    return done.stdout, events(log)


def named(told, name):
    return [e for e in told if e["event"] == name]


def test_a_whole_warm_up(tmp_path):
    said, told = practised(tmp_path, "warmup", "--minutes", 5, "--day", 3)
    parts = named(told, "part_start")
    assert [p["part"] for p in parts] == list(range(1, parts[0]["parts"] + 1))
    assert parts[0]["drill"] == "warmup-long-tones"
    assert len(named(told, "take_end")) == len(named(told, "take_start")) >= len(parts)
    assert told[-1] == {"event": "session_end", "reason": "the course is done"}
    accuracies = [e["accuracy"] for e in named(told, "take_end")]
    assert sum(accuracies) / len(accuracies) > 0.9
    for part in parts:
        assert part["why"] in said


def test_the_same_day_has_the_same_warm_up_and_the_next_another(tmp_path):
    home = {"COACH_HOME": str(tmp_path)}
    first, again, other = (
        coach("warmup", "--minutes", 12, "--show", "--day", day, **home).stdout for day in (5, 5, 6)
    )
    assert first == again != other


def test_the_comfortable_range_is_remembered(tmp_path):
    home = {"COACH_HOME": str(tmp_path)}
    told = ("--low", "G3", "--high", "C5")
    given = coach("warmup", "--minutes", 10, "--show", "--day", 1, *told, **home)
    later = coach("warmup", "--minutes", 10, "--show", "--day", 1, **home)
    assert given.stdout == later.stdout
    fresh = coach("warmup", "--minutes", 10, "--show", "--day", 1, COACH_HOME=str(tmp_path / "n"))
    assert fresh.stdout != later.stdout


def test_the_last_day_of_a_build_ends_with_whole_runs_at_and_above_the_goal(tmp_path):
    _, told = practised(
        tmp_path, "build", "demo-run", "--to", 120, "--days", 3, "--day", 3, "--minutes", 10
    )
    starts = named(told, "take_start")
    whole = [e["tempo_bpm"] for e in starts if e["notes"] == 17]
    assert whole[-1] == 120
    assert max(whole) == 126
    assert any(e["notes"] < 17 for e in starts)
    assert named(told, "take_end")[-1]["passed"]
    assert told[-1]["reason"] == "the course is done"


def test_a_trial_ends_with_an_answer_in_words(tmp_path):
    out = tmp_path / "trial.json"
    said, told = practised(
        tmp_path,
        *("trial", "demo-run", "--a", "tonguing=single", "--b", "tonguing=double"),
        *("--at", 110, "--seed", 4, "--json", out),
    )
    found = json.loads(out.read_text())
    takes = named(told, "take_end")
    assert len(takes) == 2 * found["pairs"]
    assert found["cleaner"] in ("a", "b", "even", "open")
    assert found["low"] <= found["difference"] <= found["high"]
    tempi = [e["tempo_bpm"] for e in named(told, "take_start")]
    assert all(a == b for a, b in zip(tempi[::2], tempi[1::2], strict=True))
    assert f"After {found['pairs']} takes each" in said or "you missed about" in said


def test_what_went_wrong_lately_is_in_the_warm_up(tmp_path):
    """A note that was missed in every take comes back as a part of its own."""
    with PracticeBook(tmp_path / "practice.sqlite") as book:
        drill, instrument = load_drill("demo-run")
        for number in range(1, 11):
            plan = plan_take(
                Exercise(drill.variants[0], 90, instrument.transposition), 48000, 96000
            )
            heard = tuple(
                Attack(due.frame, float(due.pitch), -20.0, fine=True)
                for due in plan.dues
                if due.index != 9
            )
            take = Take(number, plan, heard, (), False)
            book.append(take, judge_take(take, Rules()), drill)
        for number in range(20):  # a warm-up since then does not push it out
            book.append(take, judge_take(take, Rules()), replace(drill, name=f"warmup-{number}"))
    said = coach("warmup", "--minutes", 20, "--show", "--day", 1, COACH_HOME=str(tmp_path)).stdout
    plain = coach("warmup", "--minutes", 20, "--show", "--day", 1, COACH_HOME=str(tmp_path / "n"))
    assert drill.title in said
    assert drill.title not in plain.stdout


@pytest.mark.parametrize(
    ("arguments", "word"),
    [
        (("warmup", "--minutes", 2), "--minutes"),
        (("warmup", "--low", "X9"), "--low"),
        (("warmup", "--low", "C5", "--high", "D5", "--show"), "--low and --high"),
        (("build", "demo-run", "--to", 900), "--to"),
        (("build", "demo-run", "--to", 120, "--days", 3, "--day", 4), "day"),
        (("build", "no-such", "--to", 120), "no-such"),
        (("trial", "demo-run", "--a", "side=F", "--b", "fast"), "--b fast"),
        (("trial", "demo-run", "--a", "side=X", "--b", "side=F"), "side=X"),
        (("trial", "demo-run", "--a", "fingering=x", "--b", "side=F"), "fingering=x"),
        (("trial", "demo-run", "--a", "fingering=1", "--b", "fingering=99"), "give 1 to 5"),
        (("trial", "demo-run", "--a", "side=F", "--b", "side=F"), "the same way"),
        (("trial", "demo-run", "--a", "tonguing=quadruple", "--b", "side=F"), "quadruple"),
        (("trial", "demo-run", "--variant", 9, "--a", "side=F", "--b", "side=Bb"), "--variant 9"),
        (("drill", "demo-run", "--input", "nowhere.wav"), "nowhere.wav"),
    ],
)
def test_what_cannot_be_is_said_in_one_sentence(tmp_path, arguments, word):
    refused(coach(*arguments, COACH_HOME=str(tmp_path)), word)
