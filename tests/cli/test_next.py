"""`coach next`: from the practice book to a sentence and a drill."""

from __future__ import annotations

import json
from dataclasses import replace
from random import Random

import pytest

from coach.book.practice import PracticeBook
from coach.cli import main
from coach.cli.lately import weak_spots
from coach.core.exercise import Drill, Exercise
from coach.core.rejudge import judged_again
from coach.core.rules import Rules
from coach.core.take import Take
from coach.core.timeline import plan_take
from coach.files.configs import load_instrument
from coach.files.drillshelf import load_drill
from tests.core.findings_making import RATE, Player, line, played


@pytest.fixture
def home(tmp_path, monkeypatch):
    monkeypatch.setenv("COACH_HOME", str(tmp_path))
    return tmp_path


def keep(home, player: Player, takes: int = 12, name: str = "mine", seed: int = 1) -> None:
    """Takes of a drill whose file is gone."""
    passage = replace(line(), title="Mine")
    drill, rng = Drill(name, "Mine", "", (passage,)), Random(seed)
    plan = plan_take(Exercise(passage, 96.0, -7), RATE, 2 * RATE)
    with PracticeBook(home / "practice.sqlite") as book:
        for number in range(1, takes + 1):
            take = Take(number, plan, tuple(played(player, plan, rng)), (), True)
            book.append(take, judged_again(take, Rules()), drill)


def bad_note(k: int) -> float:
    return 0.8 if k == 5 else 0.0


def test_it_says_the_note_and_writes_the_drill(home, capsys):
    keep(home, Player(planted=bad_note))
    out = home / "result.json"
    assert main(["next", "--json", str(out)]) == 0
    said = capsys.readouterr().out
    assert said.startswith("Note 6 (F5) went wrong ")
    assert "coach drill mine-next" in said
    result = json.loads(out.read_text())
    assert (result["drill"], result["takes"]) == ("mine", 12)
    assert result["findings"][0]["kind"] == "one note"
    assert result["findings"][0]["notes"] == [5]
    drill, _ = load_drill("mine-next")
    assert drill.about == result["findings"][0]["sentence"]
    assert drill.variants[0].notes[0].pitch == 69


def test_it_may_be_asked_again_but_writes_over_no_other_drill(home, capsys):
    keep(home, Player(planted=bad_note))
    assert main(["next"]) == 0
    assert main(["next", "mine"]) == 0
    assert main(["next", "--out", "mine-next"]) == 2
    assert "choose another name" in capsys.readouterr().err
    assert main(["next", "--out", "mine-next", "--replace"]) == 0
    assert main(["next", "--out", str(home / "other.toml")]) == 0
    assert (home / "other.toml").exists()


def test_without_a_pattern_nothing_is_written(home, capsys):
    keep(home, Player(), takes=3)
    assert main(["next"]) == 0
    assert capsys.readouterr().out.startswith("No pattern yet: ")
    assert not (home / "drills").exists()


def test_the_weak_spots_of_the_drills_played_last_on_this_instrument(home):
    keep(home, Player(planted=bad_note))
    keep(home, Player(share=0.0), name="other")
    horn, trumpet = load_instrument("double-horn"), load_instrument("trumpet")
    with PracticeBook(home / "practice.sqlite") as book:
        (drill,) = weak_spots(book, horn, 2)
        assert drill.about.startswith("Note 6 (F5) went wrong ")
        assert weak_spots(book, horn, 0) == []
        assert weak_spots(book, trumpet, 2) == []


def test_only_the_takes_asked_for_are_looked_at(home, capsys):
    keep(home, Player(planted=bad_note), takes=12)
    keep(home, Player(share=0.0), takes=3, name="other")
    assert main(["next"]) == 0
    assert capsys.readouterr().out.startswith("Nothing went wrong in 3 takes")
    assert main(["next", "mine", "--takes", "2"]) == 0
    assert "of 2 takes" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["next"], "there are no takes yet; play some first"),
        (["next", "thirds"], "there are no takes of thirds yet"),
        (["next", "--takes", "0"], "--takes 0 is out of range; use 1 to 200"),
    ],
)
def test_bad_input_is_one_sentence(home, capsys, arguments, said):
    assert main(arguments) == 2
    assert said in capsys.readouterr().err
    assert not (home / "practice.sqlite").exists()
