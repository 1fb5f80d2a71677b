"""`coach player`, `coach goal`, `coach played`: what they change is seen by what comes after."""

from __future__ import annotations

import datetime
import io
import json

import pytest

from coach.book.practice import PracticeBook
from coach.cli import main
from coach.cli.own import instrument_for, own_instrument
from coach.cli.record import book_path
from coach.core.progress.dates import MONTHS
from coach.files.configs import own_folder
from tests.book.making import keep, numbered, take_of


@pytest.fixture
def book(capsys):
    """A take of a shipped drill, one of a passage out of a score."""
    with PracticeBook(book_path()) as book:
        keep(book, numbered(take_of(), 72), "turns")
        keep(book, numbered(take_of(), 80), "march-horn-1-bars-3-6")
    return book_path()


def said(capsys) -> str:
    return " ".join(capsys.readouterr().out.split())


def planned(tmp_path, *options: str) -> dict:
    out = tmp_path / "plan.json"
    assert main(["today", "--minutes", "30", "--json", str(out), *options]) == 0
    return json.loads(out.read_text(encoding="utf-8"))


def test_each_player_has_a_book_of_their_own(book, capsys):
    assert main(["player", "Ida", "--new", "--instrument", "trumpet"]) == 0
    assert "Ida, 0 takes, trumpet, plays now player, 2 takes" in said(capsys)
    assert own_instrument() == "trumpet"
    assert instrument_for(None).name == "trumpet"
    assert main(["review"]) == 0
    assert "Nothing has been played lately" in said(capsys)
    assert main(["review", "--player", "player"]) == 0
    assert "2 takes" in said(capsys)
    assert main(["player", "player", "--rename", "Bo"]) == 0
    assert "Bo, 2 takes, plays now" in said(capsys)
    assert own_instrument() is None


def test_who_has_no_name_is_told_how_to_get_one(book, capsys):
    assert main(["player"]) == 0
    told = "nobody has a name yet, 2 takes; name yourself: coach player player --rename IDA"
    assert said(capsys) == told


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["nobody"], 'there is no player "nobody" in the practice book'),
        (["player", "--new"], 'there is a player "player" already'),
        (["player", "--instrument", "kazoo"], 'there is no instrument "kazoo"'),
        ([" ", "--new"], "this can't be a player's name"),
        (["--new"], "coach: player: no player is named; write the name first: coach player NAME"),
        ([" ", "--new"], "coach: player: this can't be"),
    ],
)
def test_what_a_player_can_not_be(book, capsys, words, sentence):
    assert main(["player", *words]) == 2
    assert sentence in capsys.readouterr().err


def test_a_player_is_erased_when_the_name_is_typed(book, capsys, monkeypatch):
    sounds = own_folder() / "sound"
    sounds.mkdir()
    with PracticeBook(book) as open_book:
        uid = open_book.take_rows()[0].uid
    (sounds / f"{uid}.flac").write_bytes(b"x")
    monkeypatch.setattr("sys.stdin", io.StringIO("no\n"))
    assert main(["player", "player", "--erase"]) == 0
    assert "Nothing was erased" in said(capsys)
    monkeypatch.setattr("sys.stdin", io.StringIO("player\n"))
    assert main(["player", "player", "--erase"]) == 0
    assert "Everything about player is erased" in said(capsys)
    with PracticeBook(book) as open_book:
        assert open_book.take_rows() == []
    assert list(sounds.iterdir()) == []


def test_a_goal_alone_is_planned(capsys, tmp_path):
    """Before anything was played."""
    assert main(["goal", "thirds", "100"]) == 0
    (block, *_) = planned(tmp_path)["blocks"]
    assert (block["name"], block["kind"], block["aim_bpm"]) == ("thirds", "learn", 100)


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["goal", "turns"], "coach: goal: a goal is a tempo; write: coach goal turns 132."),
        (["return", "back.jsonl"], "coach: return: there is no assignment"),
    ],
)
def test_a_command_is_named_once(book, capsys, words, sentence):
    assert main(words) == 2
    assert capsys.readouterr().err.startswith(sentence)


def test_a_goal_of_ones_own_goes_before_the_drill_files(book, capsys, tmp_path):
    day = datetime.date.today() + datetime.timedelta(days=9)
    assert main(["goal", "turns", "144", "--by", str(day)]) == 0
    date = f"{day.day} {MONTHS[day.month - 1]} {day.year}"
    goal = f"turns is to go at 144 by {date} (double horn)"
    assert said(capsys) == f"{goal} Plan it: coach today"
    assert main(["goal"]) == 0
    assert said(capsys) == f"{goal} Plan it: coach today"
    aims = {b["name"]: b["aim_bpm"] for b in planned(tmp_path)["blocks"]}
    assert set(aims) == {"turns"}
    assert main(["goal"]) == 0
    assert "turns is to go at 144" in said(capsys)
    assert main(["goal", "turns", "--drop"]) == 0
    assert main(["goal"]) == 0
    assert "No goals yet" in said(capsys)


def test_a_passage_out_of_a_score_is_planned_and_played_again(book, capsys, tmp_path):
    name = "march-horn-1-bars-3-6"
    assert main(["goal", name, "120"]) == 0
    blocks = planned(tmp_path)["blocks"]
    assert {block["name"] for block in blocks} == {"turns", name}
    play = ["--input", "player", "--fast", "--plain", "--takes", "1", "--no-sound"]
    assert main(["drill", name, "--from", "60", *play]) == 0
    with PracticeBook(book) as open_book:
        assert [row.drill for row in open_book.take_rows()][-1] == name


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["turns"], "a goal is a tempo"),
        (["turns", "132", "--drop"], "a goal is a tempo"),
        (["turns", "1e9"], "BPM 1e+09 is out of range"),
        (["turns", "132", "--by", "soon"], '--by "soon" is no date'),
        (["turns", "132", "--by", "2020-02-29"], "--by 2020-02-29 is over"),
        (["nothing", "132"], '"nothing" is neither a drill nor was it ever played'),
        (["thirds", "--drop"], "thirds has no goal of yours"),
    ],
)
def test_what_can_not_be_a_goal(book, capsys, words, sentence):
    assert main(["goal", *words]) == 2
    assert sentence in capsys.readouterr().err


def test_what_was_played_elsewhere_lightens_the_day(book, capsys, tmp_path):
    before = planned(tmp_path)["playing_minutes"]
    assert main(["played", "40", "--what", "rehearsal"]) == 0
    assert "40 minutes of rehearsal; 40 away from the coach today" in said(capsys)
    assert planned(tmp_path)["playing_minutes"] < before
    assert main(["review"]) == 0
    assert "40 minutes" in said(capsys)


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["0"], "MINUTES 0 is out of range"),
        (["nan"], "MINUTES nan is out of range"),
        (["20", "--what", "dreaming"], "--what dreaming is unknown"),
        (["20", "--on", "2999-01-01"], "--on 2999-01-01 is still to come"),
    ],
)
def test_what_can_not_have_been_played(book, capsys, words, sentence):
    assert main(["played", *words]) == 2
    assert sentence in capsys.readouterr().err


def test_the_concert_is_remembered_until_it_is_over_or_off(book, capsys, tmp_path):
    concert = datetime.date.today() + datetime.timedelta(days=12)
    assert planned(tmp_path)["days_left"] is None
    assert planned(tmp_path, "--concert", str(concert))["days_left"] == 12
    assert planned(tmp_path)["days_left"] == 12
    assert planned(tmp_path, "--concert", "none")["days_left"] is None
    assert planned(tmp_path)["days_left"] is None
