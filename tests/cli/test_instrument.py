"""`coach instrument`: the chart on the screen, as lines, as JSON, and bad input."""

from __future__ import annotations

import json

import pytest

from coach.cli import main
from coach.files.configs import instrument_names
from tests.cli.test_bad_input import coach, refused


def chart(*arguments: str) -> dict[str, list[dict]]:
    done = coach("instrument", *arguments, "--json")
    assert done.returncode == 0, done.stderr
    notes = json.loads(done.stdout)["notes"]
    return {note["written"]: note["fingerings"] for note in notes}


def test_table():
    done = coach("instrument", "double-horn", COLUMNS="100", NO_COLOR="1")
    assert done.returncode == 0, done.stderr
    assert "\x1b" not in done.stdout
    rows = [line.split() for line in done.stdout.splitlines()]
    # Yamaha chart, by transcription: C5 with the thumb first; F-side open is the eighth partial.
    (row,) = [row for row in rows if row[:1] == ["C5"]]
    assert row[:5] == ["C5", "F4", "T0", "6", "+2"]
    assert " ".join(row).split("+2", 1)[1].startswith(" 0 8 0 23 10 +2")
    assert [row[0] for row in rows if row][-1] == "F6"


def test_plain_lines():
    done = coach("instrument", "trumpet", "--plain")
    assert done.returncode == 0, done.stderr
    lines = done.stdout.splitlines()
    assert lines[0] == "trumpet in B-flat"
    assert "F#3 sounding E3: 123 partial 2 +54 cents" in lines
    assert len(lines) == 32


def test_written_or_sounding():
    written = coach("instrument", "trumpet", "--plain", "--written").stdout
    sounding = coach("instrument", "trumpet", "--plain", "--sounding").stdout
    assert "\nC6: 0 partial 8 0 cents" in written
    assert "\nBb5: 0 partial 8 0 cents" in sounding


def test_json_puts_the_usual_one_first():
    notes = chart("double-horn")
    first = notes["D5"][0]
    assert first["fingering"] == "T12"
    assert first == {
        "fingering": "T12",
        "side": "Bb",
        "valves": "12",
        "lever": "T",
        "partial": 8,
        "cents": 10.634,
        "drop": 2.894,
        "length": 2.894,
        "extra": False,
    }
    assert {"T3", "0"} <= {c["fingering"] for c in notes["D5"]}


def test_slides_and_crooks():
    assert chart("double-horn", "--tuned", "F=E")["C4"][0]["fingering"] == "12"
    assert chart("double-horn", "--tuned", "Bb=B")["F#5"][0]["fingering"] == "T0"
    done = coach("instrument", "natural-horn", "--crook", "Eb", "--json")
    notes = json.loads(done.stdout)["notes"]
    (middle,) = [note for note in notes if note["written"] == "C4"]
    # Horn in E-flat sounds a major sixth below (Wikibooks, Horn/Technique/Transposition).
    assert (middle["sounding"], middle["fingerings"][0]["partial"]) == ("Eb3", 4)
    none = next(note for note in notes if note["written"] == "D4")
    assert none["fingerings"] == []


def test_stopped():
    notes = chart("double-horn", "--stopped")
    assert notes["C5"][0]["fingering"] == "2+"
    assert all(c["side"] == "F" for found in notes.values() for c in found)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["hornf"], ["no instrument", "did you mean horn-f?"]),
        (["natural-horn", "--crook", "Bb"], ["no crook Bb", "Bb alto", "Bb basso"]),
        (["trumpet", "--crook", "F"], ["no crook F", "leave --crook out"]),
        (["double-horn", "--tuned", "F"], ["F is not a side and a note", "sides F, Bb"]),
        (["double-horn", "--tuned", "F=H"], ["F=H is not a side and a note"]),
        (["trumpet", "--tuned", "Bb=A"], ["one tube only"]),
        (["trumpet", "--stopped"], ["can't be stopped"]),
    ],
)
def test_bad_input(arguments, words):
    refused(coach("instrument", *arguments), *words)


def test_without_a_name_all_are_listed(capsys):
    assert main(["instrument"]) == 0
    rows = capsys.readouterr().out.splitlines()
    assert [row.split()[0] for row in rows[:-1]] == list(instrument_names())
    assert any(row.endswith("trumpet in B-flat") for row in rows)
    assert main(["instrument", "--json"]) == 2
    assert "no instrument is named; write: coach instrument" in capsys.readouterr().err
