"""`coach review` and `coach today`, after an invented player's evening."""

from __future__ import annotations

import json
import shutil

import pytest

from coach.book.practice import PracticeBook
from coach.cli import main
from coach.cli.own import own_weights
from coach.cli.today import _lines
from coach.core.planning import Block, DayPlan
from coach.core.profile.ceilings import Ceilings
from coach.core.review import PassageReview, Review, Week
from coach.files.configs import load_instrument, own_folder
from coach.screen.review import review_page
from tests.screen.shots import render

PLAY = ["--input", "player", "--fast", "--plain", "--seed", "3"]


@pytest.fixture(scope="module")
def played_home(tmp_path_factory):
    """Three takes of one drill, two of another; played once for all tests here."""
    home = tmp_path_factory.mktemp("evening")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("COACH_HOME", str(home))
        assert main(["drill", "turns", "--takes", "3", *PLAY]) == 0
        assert main(["drill", "thirds", "--takes", "2", *PLAY]) == 0
    return home


@pytest.fixture
def evening(played_home, capsys):
    """Each test has a copy of the book for itself."""
    own_folder().mkdir(parents=True, exist_ok=True)
    shutil.copy(played_home / "practice.sqlite", own_folder() / "practice.sqlite")
    capsys.readouterr()


def test_before_anything_was_played(capsys):
    for command in ("review", "today"):
        assert main([command]) == 2
        assert "nothing has been played yet; begin with: coach warmup." in capsys.readouterr().err


def test_the_week_and_where_each_passage_stands(evening, capsys, tmp_path):
    assert main(["review"]) == 0
    text = " ".join(capsys.readouterr().out.split())
    assert "this week: 1 day" in text
    assert "5 takes" in text
    assert "the week before: no practice" in text
    assert "Turns through the scale" in text
    assert "is furthest from its goal: coach build" in text
    assert main(["review", "--json", str(tmp_path / "r.json")]) == 0
    told = json.loads((tmp_path / "r.json").read_text(encoding="utf-8"))
    assert {one["drill"]: one["takes"] for one in told["passages"]} == {"turns": 3, "thirds": 2}
    assert told["profile"]["clean"]["count"] > 200
    assert told["week"]["takes"] == 5
    assert all(0 < cost["measured"] < 1 for cost in told["move_costs"].values())


def test_an_instrument_that_was_not_played(evening, capsys):
    assert main(["review", "--instrument", "tuba"]) == 0
    assert "Nothing has been played lately" in capsys.readouterr().out
    assert main(["review", "--instrument", "kazoo"]) == 2


def test_what_to_practise_today(evening, capsys, tmp_path):
    assert main(["today", "--minutes", "20"]) == 0
    out = capsys.readouterr().out
    assert "coach drill turns --from" in out
    assert "coach drill thirds --from" in out
    assert main(["today", "--minutes", "20", "--json", str(tmp_path / "t.json")]) == 0
    plan = json.loads((tmp_path / "t.json").read_text(encoding="utf-8"))
    assert sum(block["minutes"] for block in plan["blocks"]) <= 20
    assert {block["name"] for block in plan["blocks"]} == {"turns", "thirds"}


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--concert", "soon"], '--concert "soon" is no date; write year-month-day'),
        (["--minutes", "0"], "a plan is for 1 to 600 minutes"),
    ],
)
def test_what_cannot_be_planned(evening, capsys, options, said):
    assert main(["today", *options]) == 2
    assert said in capsys.readouterr().err


def test_each_take_adds_to_the_tallies_and_sessions_are_kept(evening):
    with PracticeBook(own_folder() / "practice.sqlite") as book:
        tallies = book.tallies("double-horn")
        notes = sum(row.counted for row in book.take_rows())
        (ceiling,) = book.ceilings("turns")
    assert sum(t.count for t in tallies if t.kind == "register") == notes
    assert ceiling.low_bpm < ceiling.estimate_bpm < ceiling.high_bpm
    assert {t.kind for t in tallies} >= {"move", "articulation", "register", "take"}


def test_the_planner_goes_by_the_players_own_moves_once_there_are_enough(evening):
    """An evening is too little of most moves; without a book all is assumed."""
    horn = load_instrument("double-horn")
    assert len(own_weights(horn).measured) < 200
    (own_folder() / "practice.sqlite").unlink()
    assert own_weights(horn).measured == {}


def test_that_own_moves_count_is_told(monkeypatch, capsys):
    """A book with a thousand lags of one move, all of 30 ms."""
    from coach.core.profile.tally import Tally

    with PracticeBook(own_folder() / "practice.sqlite") as book:
        today = book.today()
    slow = Tally("move", "1>3", today, 1000, 900, 1000, 30_000.0, 900_500.0)
    monkeypatch.setattr(PracticeBook, "tallies", lambda self, name, since_day=0: [slow])
    told, share = own_weights(load_instrument("double-horn")).measured[("1", "3")]
    assert told > 5
    assert share > 0.9
    assert main(["fingering", "turns"]) == 0
    assert "finger moves your own takes tell something" in capsys.readouterr().out


def turn(name: str, what: str, *, kind="build") -> Block:
    return Block(name, name.title(), kind, 5, 78, 120, None, what)


def plan_lines(blocks: list[Block], width: int | None = None) -> list[str]:
    return list(_lines(DayPlan(1, tuple(blocks), 40, 20, None, "Why so.", "", ()), width))


ONCE_MORE = "Once more: begin where the last turn ended."


def test_turns_that_only_go_on_are_one_and_begin_where_they_ended():
    first = [turn("turns", "78 goes."), turn("thirds", "70 goes.")]
    again = [turn("turns", ONCE_MORE), turn("thirds", ONCE_MORE)]
    assert plan_lines([*first, *again, *again, *again]) == [
        "Why so.",
        "   1   5 min  Turns: 78 goes.",
        "              coach drill turns --from 78 --to 120",
        "   2   5 min  Thirds: 70 goes.",
        "              coach drill thirds --from 78 --to 120",
        " 3-8  30 min  Then by turns, 3 times more, each from where its last turn ended: Turns,"
        " Thirds.",
        "              coach drill turns --to 120",
        "              coach drill thirds --to 120",
    ]


def test_turns_between_are_told_where_they_stand():
    first, more = turn("turns", "78 goes."), turn("turns", ONCE_MORE)
    rows = plan_lines([first, turn("thirds", "70 goes."), more, turn("scales", "Leave it."), more])
    assert [row for row in rows if "min" in row] == [
        "   1   5 min  Turns: 78 goes.",
        "   2   5 min  Thirds: 70 goes.",
        f"   3   5 min  Turns: {ONCE_MORE}",
        "   4   5 min  Scales: Leave it.",
        f"   5   5 min  Turns: {ONCE_MORE}",
    ]
    assert rows.count("              coach drill turns --from 78 --to 120") == 1
    assert rows.count("              coach drill turns --to 120") == 2
    alone = plan_lines([first, more, more])
    assert " 2-3  10 min  Turns: then twice more, from where the last turn ended." in alone
    uneven = plan_lines([first, turn("thirds", "70 goes."), more, turn("thirds", ONCE_MORE), more])
    assert any("Then by turns, 3 more turns, each" in row for row in uneven)


def test_what_goes_is_played_at_its_tempo_again():
    keep = turn("scales", "Once or twice, and leave it.", kind="keep")
    rows = plan_lines([keep, turn("turns", "78 goes."), keep])
    assert rows.count("              coach drill scales --from 78 --to 120") == 2


def test_on_a_terminal_the_plan_is_set_in_and_commands_stay_whole():
    what = "It lay for a while: one take at 100, cold, to hear what is left of it. Then from 78 on."
    rows = plan_lines([turn("turns", what)], 50)
    assert max(map(len, rows)) <= 50
    assert all(row.startswith(" " * 14) for row in rows[2:])
    assert rows[-1] == "              coach drill turns --from 78 --to 120"


def page_rows(advice: str, width: int) -> list[str]:
    week = Week(1, 12.0, 5, 0.9)
    passage = PassageReview("ta-ka-groups", "Groups", 3, 1, 100, 90, 110, None, 150)
    review = Review(1, week, week, (passage,), Ceilings({}, {}))
    weak = ["the back syllable on high notes: later than the front one, and quieter too"]
    return render(review_page(review, weak, advice), width).splitlines()


def test_the_page_is_set_in_and_what_to_type_is_a_line_of_its_own():
    advice = (
        "Double tongue, groups of four is furthest from its goal: coach build ta-ka-groups --to"
    )
    rows = page_rows(f"{advice} 150", 40)
    assert "    coach build ta-ka-groups --to 150" in rows
    assert all(row.startswith("  ") for row in rows if row and "─" not in row)
    wide = page_rows("Everything goes.", 80)
    (now,) = (row for row in wide if "this week:" in row)
    (before,) = (row for row in wide if "the week before:" in row)
    assert now.index("1 day") == before.index("1 day") == 20
