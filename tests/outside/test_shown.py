"""Whatever a name holds, it is shown and not obeyed: by a terminal, by its markup, by a browser, by
a shell, by a spreadsheet."""

from __future__ import annotations

import os
import re
import shlex
import sqlite3
from contextlib import closing
from pathlib import Path
from xml.etree import ElementTree

import pytest

from coach.book.practice import PracticeBook
from coach.cli import main
from coach.core.assignment import Assignment
from coach.core.planning.goals import Goal
from tests.sharing import fill

# Clears the screen, names the window, and links to a place, in three ways; turns writing round.
ESCAPES = "\x1b[2J\x1b]0;OWNED\x07\x9b2J\x1b]8;;http://x\x1b\\‮"
MARKUP = "[link=http://x][red on white]m[/][/link]"
SCRIPT = "</title><script>alert(1)</script>"
FILE_NAME = f"a{ESCAPES}".replace("/", "")
EVIL = f"e{ESCAPES}{MARKUP}{SCRIPT}$(touch owned);=1+1"

TOML = """
title = "{0}"
about = "{0}"
cautions = ["{0}"]
[passage]
notes = ["C4 1/8", "D4 1/8", "E4 1/8", "C4 1/8", "D4 1/8", "E4 1/8", "F4 1/8", "G4 1/8"]
[tempo]
from = 120
to = 180
"""
ABC = 'X:1\nT:{0}\nC:{0}\nM:4/4\nL:1/8\nQ:120\nV:1 name="{0}"\nK:C\n"^{0}" CDEF GABc|c8|\n'
XML = """<?xml version="1.0"?><score-partwise><work><work-title>{0}</work-title></work><part-list>
<score-part id="P1"><part-name>Horn {0}</part-name></score-part></part-list><part id="P1">
<measure number="{0}"><attributes><divisions>1</divisions></attributes><direction><direction-type>
<words>{0}</words></direction-type></direction><note><pitch><step>C</step><octave>4</octave></pitch>
<duration>4</duration></note></measure></part></score-partwise>"""


@pytest.fixture
def home(tmp_path, monkeypatch) -> Path:
    """A folder with a book, a drill and scores of evil names."""
    monkeypatch.setenv("COACH_HOME", str(tmp_path))
    monkeypatch.chdir(tmp_path)
    path = tmp_path / "practice.sqlite"
    fill(path, takes=4)
    with closing(sqlite3.connect(path)) as db:
        for column in ("drill", "title"):
            db.execute(f"UPDATE takes SET {column} = ? WHERE id > 2", (EVIL,))
        db.execute("UPDATE passages SET drill = ?, scale = ?", (EVIL, EVIL))
        db.execute("UPDATE tallies SET name = ? WHERE kind = 'syllable' AND name = 'ka'", (EVIL,))
        db.execute("UPDATE players SET name = ?", (EVIL,))
        db.commit()
    with PracticeBook(path) as book:
        book.diary.set_goal(Goal(EVIL, "double-horn", 140.0, book.today() + 3))
        goals = (Goal(EVIL, "double-horn", 100.0),)
        book.diary.add_assignment(Assignment("cd" * 16, EVIL, EVIL, EVIL, None, goals))
    escaped = EVIL.encode("unicode_escape").decode().replace("\\x", "\\u00")
    (tmp_path / "drills").mkdir()
    for name in ("evil", *([FILE_NAME] if os.name == "posix" else [])):
        (tmp_path / "drills" / f"{name}.toml").write_text(TOML.format(escaped), "utf-8")
    (tmp_path / "evil.abc").write_text(ABC.format(EVIL.replace('"', "")), "utf-8")
    inside = EVIL.replace("&", "").replace("<", "&lt;")
    inside = "".join(c for c in inside if c >= " ")
    (tmp_path / "evil.xml").write_text(XML.format(inside), "utf-8")
    return tmp_path


COMMANDS = (
    "drills",
    "review",
    "review --html page.html",
    "today",
    "next",
    "goal",
    "player",
    "listen --list",
    "export all.jsonl",
    "export all.csv",
    "return back.jsonl --replace",
    "passage evil.abc",
    "passage evil.abc --part 1",
    "passage evil.xml",
    "passage evil.xml --part 1 --hard 3",
    "passage evil.abc --out evil.toml",
    "fingering evil",
    "tonguing evil",
    "drill evil --input player --fast --plain --takes 1",
    "sheet evil --out sheet --svg",
    "assign set.jsonl evil",
)


@pytest.mark.parametrize("words", ["", *COMMANDS])
def test_a_terminal_is_told_nothing_but_text(home, capfd, words):
    status = main(words.split())
    out, err = capfd.readouterr()
    assert status in (0, 2), err
    shown = (out + err).replace("\n", "")
    assert shown.isprintable(), re.findall(r"[^\x20-\x7e]+", shown)
    assert "http://x\x1b" not in shown


def test_markup_is_shown_as_it_stands(home, capfd):
    for words in ("passage evil.abc", "fingering evil", "goal"):
        main(words.split())
        assert "[red on white]" in " ".join(capfd.readouterr().out.split())


@pytest.mark.skipif(os.name != "posix", reason="Windows has no such names")
@pytest.mark.parametrize("words", ["drill {}.toml", "passage {}.mid", "assess {}.wav --expect {}"])
def test_a_file_of_an_evil_name_is_named_in_the_error(home, capfd, words):
    name = f"{FILE_NAME}\udcff"
    assert main([word.format(name) for word in words.split()]) == 2
    assert capfd.readouterr().err.strip().isprintable()


def test_a_page_runs_and_loads_nothing(home, capfd):
    assert main(["review", "--html", "page.html"]) == 0
    text = (home / "page.html").read_text("utf-8")
    root = ElementTree.fromstring(text.removeprefix("<!DOCTYPE html>\n"))
    tags = {element.tag.partition("}")[2] for element in root.iter()}
    assert not tags & {"script", "link", "iframe", "object", "embed", "img", "form", "base"}
    assert "".join(root.itertext()).count(SCRIPT) > 0
    assert not any(name.startswith("on") for one in root.iter() for name in one.attrib)


def test_a_command_to_be_typed_holds_the_name_as_one_word(home, capfd):
    with closing(sqlite3.connect(home / "practice.sqlite")) as db:
        db.execute("UPDATE takes SET day = day - 2")
        db.execute("UPDATE elsewhere SET day = day - 2")
        db.commit()
    main(["today"])
    lines = [line.strip() for line in capfd.readouterr().out.splitlines()]
    commands = [line for line in lines if line.startswith("coach drill")]
    assert commands
    for command in commands:
        assert not any(sign in "".join(unquoted(command)) for sign in ";$()&|<>`")


def unquoted(command: str) -> list[str]:
    """What a shell would look at: all that stands outside of quotes."""
    lexer = shlex.shlex(command, posix=False, punctuation_chars=True)
    return [word for word in lexer if word[:1] not in "'\""]


def test_a_spreadsheet_calculates_nothing(home, capfd):
    with closing(sqlite3.connect(home / "practice.sqlite")) as db:
        db.execute("UPDATE takes SET title = '=HYPERLINK(1)'")
        db.commit()
    assert main(["export", "all.csv"]) == 0
    text = (home / "all.csv").read_text("utf-8-sig")
    assert "'=HYPERLINK" in text
    assert ",=HYPERLINK" not in text
