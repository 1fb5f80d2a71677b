"""`coach help`, and what a mistyped command line is told."""

from __future__ import annotations

import pytest

from coach.cli import COMMANDS, commands, main, whole_parser
from coach.cli.help import COMMAND_GROUPS
from coach.cli.parsing import commands_of
from coach.files.drillshelf import drill_names
from coach.files.topics import topic_names


def told(capsys, *words: str) -> str:
    assert main(list(words)) == 0
    return capsys.readouterr().out


def refused(capsys, *words: str) -> str:
    assert main(list(words)) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith("coach: ")
    assert err.count("\n") == 1
    return err


def test_the_list_has_all_commands_and_words(capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    rows = told(capsys, "help").splitlines()
    assert max(map(len, rows)) <= 80
    assert len(rows) <= 30
    words = " ".join(rows).replace(",", " ").split()
    assert {*topic_names(), *commands()} <= set(words)
    grouped = [name for names in COMMAND_GROUPS.values() for name in names]
    assert sorted(grouped) == sorted(commands())


def test_each_command_has_a_line(capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    with pytest.raises(SystemExit):
        main(["--help"])
    rows = capsys.readouterr().out.splitlines()
    first = rows.index("  COMMAND") + 1
    listed = rows[first : rows.index("", first)]
    assert [row.split()[0] for row in listed] == list(commands())
    assert all(len(row.split()) > 1 for row in listed)


@pytest.mark.parametrize(
    "word", ["bpm", "clicks", "turn", "cold", "goes", "voice", "register", "course", "divisi"]
)
def test_what_screens_and_options_say_is_explained(capsys, word):
    """And stands in the text that explains it."""
    assert word in told(capsys, "help", word).lower()


def test_a_narrow_screen(capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "40")
    assert max(map(len, told(capsys, "help").splitlines())) <= 40
    rows = told(capsys, "help", "deviation").splitlines()
    assert max(map(len, rows)) <= 40


def test_a_word_its_other_names_and_several_words(capsys):
    gate = told(capsys, "help", "gate")
    assert gate.startswith("The gate\n\nThe metronome moves on only when")
    assert told(capsys, "help", "Threshold") == gate
    assert told(capsys, "help", "back", "syllable") == told(capsys, "help", "syllable")


def test_a_command_that_is_a_word_too_leads_to_its_options(capsys):
    assert told(capsys, "help", "tonguing").endswith("Options: coach tonguing --help\n")
    assert told(capsys, "help", "today").endswith("Options: coach today --help\n")
    assert told(capsys, "help", "drills").startswith("usage: coach drills")


def test_what_is_not_explained(capsys):
    assert '"gat" is not explained; did you mean gate? All words' in refused(capsys, "help", "gat")
    assert "; all words: coach help." in refused(capsys, "help", "zzz")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("dril", '"dril"; did you mean drill? All commands: coach help.'),
        ("xyzzy", '"xyzzy"; all commands: coach help.'),
        ("turns", "to practise it: coach drill turns."),
        ("gate", "what that means: coach help gate."),
        ("drill", "drill: NAME_OR_FILE is missing; `coach drills` lists"),
        ("build turns", "build: --to is missing; write: coach build thirds --to 120."),
        ("build", "build: NAME_OR_FILE and --to are missing; write: coach build thirds --to"),
        ("trial turns", "--a and --b are missing; write: coach trial NAME --a fingering=1 --b f"),
        ("learn", "learn: --out is missing; write: coach learn --out NAME."),
        ("tutti", "tutti: SCORE is missing; give a score"),
        ("drill turns --takess 3", "drill: --takess is unknown here; did you mean --takes?"),
        ("drill turns --takess=3", "drill: --takess is unknown here; did you mean --takes?"),
        ("drill turns thirds", "drill: thirds is unknown here; all options: coach drill --help."),
        ("drill turns --from x", "drill: --from x is no number; write e.g. 60."),
        ("drill turns --rest x", "drill: --rest x is no whole number; see coach drill --help."),
        ("drill turns --instrument", "drill: --instrument wants a value behind it; see coach"),
        ("drill turns --fast=4", "drill: --fast takes no value; leave =4 out."),
        ("sheet turns --png --svg", "sheet: --svg and --png can't go together; choose one."),
        ("drill turns --t 3", "drill: --t can be --to or --threshold or --takes or --tonguing; wr"),
        ("plan", "for the plan of the day: coach today; what that means: coach help plan."),
        ("mistakes", "for patterns in the mistakes: coach next; what that means: coach help"),
        ("--verse", "--verse is unknown here; did you mean --version?"),
        ("completion", "no shell is named; use bash, zsh"),
        ("completion tcl", '"tcl" is no shell; use bash, zsh'),
        ("completion --names x", '--names "x" is unknown; use drills'),
    ],
)
def test_a_mistyped_line_is_told_in_a_sentence(capsys, words, said):
    assert said in refused(capsys, *words.split())


def test_a_score_in_place_of_a_command(capsys, tmp_path):
    score = tmp_path / "run.mid"
    score.write_bytes(b"")
    assert f"to practise it: coach drill {score}" in refused(capsys, str(score))
    assert "all commands" in refused(capsys, str(tmp_path / "none.mid"))


def test_one_command_alone_is_read_as_among_all():
    whole = commands_of(whole_parser())
    assert list(whole) == list(commands())
    assert len(whole) == len(COMMANDS)
    for name in ("import", "drill", "check"):
        assert commands_of(whole_parser(name))[name].format_help() == whole[name].format_help()


def test_version_and_no_command(capsys):
    assert told(capsys, "--version").startswith("coach ")
    with pytest.raises(SystemExit) as stopped:
        main(["--help"])
    assert stopped.value.code == 0
    assert "`coach` alone says where to begin" in " ".join(capsys.readouterr().out.split())


def test_one_drill_is_told_of_and_how_to_play_it(capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "60")
    rows = told(capsys, "drills", "turns").splitlines()
    text = " ".join(" ".join(rows).split())
    assert "Upper note, lower note and back on every step of the scale, under one slur." in text
    assert "52 to 112 clicks a minute" in text
    assert rows[-1] == "  Play it: coach drill turns"
    assert 'there is no drill "nosuch"; see coach drills.' in refused(capsys, "drills", "nosuch")


def test_the_list_of_drills_has_a_line_for_each(capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    *rows, _, foot = told(capsys, "drills").splitlines()
    assert [row.split()[0] for row in rows[2:]] == list(drill_names())
    assert foot == "  More of one: coach drills NAME. Play it: coach drill NAME"
