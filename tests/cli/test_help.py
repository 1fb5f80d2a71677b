"""`coach help`, and what a mistyped command line is told."""

from __future__ import annotations

import pytest

from coach.cli import COMMANDS, commands, main, whole_parser
from coach.cli.parsing import commands_of, helps_of
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
    names = {row.split()[0] for row in rows if row.startswith("  ") and row[2] != " "}
    assert set(commands()) <= names
    words = " ".join(rows).replace(",", " ").split()
    assert set(topic_names()) <= set(words)


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
        ("build turns", "build: --to is missing; see coach build --help."),
        ("tutti", "tutti: SCORE is missing; give a score"),
        ("drill turns --takess 3", "drill: --takess is unknown here; did you mean --takes?"),
        ("drill turns --takess=3", "drill: --takess is unknown here; did you mean --takes?"),
        ("drill turns thirds", "drill: thirds is unknown here; all options: coach drill --help."),
        ("drill turns --from x", "drill: --from: invalid float value: 'x'; see coach drill"),
        ("drill turns --t 3", "drill: ambiguous option"),
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
    assert all(helps_of(whole_parser()).values())


def test_version_and_no_command(capsys):
    assert told(capsys, "--version").startswith("coach ")
    with pytest.raises(SystemExit) as stopped:
        main(["--help"])
    assert stopped.value.code == 0
    assert "`coach` alone says where to begin" in " ".join(capsys.readouterr().out.split())
