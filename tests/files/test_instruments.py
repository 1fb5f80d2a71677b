"""Instrument files: tubes, valves, likeness to another file, charts; and fingerings in words."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest

from coach.core.instrument import Tube, Valve
from coach.errors import FileError
from coach.files.configs import data_folder, instrument_names, load_instrument
from coach.files.instruments import read_instrument
from coach.files.notewords import is_fingering, note_of

HEAD = 'title = "x"\ntransposition = 0\nlowest = 30\nhighest = 80\n'
VALVES = "[valves]\n1 = 2\n2 = 1\n3 = 3\n"
PIPE = HEAD + 'fundamental = 34\ncombinations = ["0", "2", "1", "12"]\n'


@pytest.fixture
def file(tmp_path: Path):
    def write(text: str, name: str = "odd") -> Path:
        path = tmp_path / f"{name}.toml"
        path.write_text(text)
        return path

    return write


def test_the_double_horn():
    """Twelve feet of F horn sound F1, nine feet of B-flat horn B-flat1; valves of 2, 1 and 3
    semitones (handbooks)."""
    horn = load_instrument("double-horn")
    assert horn.tubes == (Tube("F", 29), Tube("Bb", 34, "T"))
    assert set(horn.valves) == {Valve("1", 2), Valve("2", 1), Valve("3", 3)}
    assert horn.combinations == ("0", "2", "1", "12", "3", "23", "13", "123")
    assert (horn.stopped_side, horn.compensating, horn.slide) == ("F", "", False)


def test_every_kind_is_there():
    wanted = """double-horn horn-f horn-bb triple-horn descant-horn natural-horn trumpet trumpet-c
    cornet flugelhorn tenor-horn euphonium euphonium-3 euphonium-4 tuba tuba-f tuba-eb trombone
    trombone-f"""
    assert set(wanted.split()) <= set(instrument_names())
    levers = {n: [t.lever for t in load_instrument(n).tubes] for n in instrument_names()}
    assert levers["triple-horn"] == ["", "T", "H"]
    assert levers["descant-horn"] == levers["trombone-f"] == ["", "T"]
    assert all(levers.values())


def test_every_figure_has_its_source():
    """A comment stands above each figure or list, or above the table it is in."""
    for path in (data_folder("configs") / "instruments").glob("*.toml"):
        lines = path.read_text(encoding="utf-8").splitlines()
        for before, line in pairwise(lines):
            if line.startswith(("transposition", "fundamental", "lowest")):
                assert before.startswith(("#", "[tubes", "transposition")), (path.name, line)


def test_like_another(file):
    file(PIPE + VALVES + '[chart]\nBb2 = "0"\nA2 = "2"\n', "model")
    same = read_instrument(file(HEAD + 'like = "model"', "same"))
    assert (same.name, same.tubes, len(same.valves)) == ("same", (Tube("", 34),), 3)
    assert same.chart == ((45, "2"), (46, "0"))
    # A tube two semitones longer: the chart moves along; an entry of its own goes before.
    text = HEAD + 'like = "model"\nfundamental = 32\n[chart]\nF3 = "12"\n'
    longer = read_instrument(file(text, "longer"))
    assert longer.chart == ((43, "2"), (44, "0"), (53, "12"))
    # Without valve 2 its entries fall out.
    fewer = read_instrument(file(HEAD + 'like = "model"\n[valves]\n1 = 2', "fewer"))
    assert (fewer.combinations, fewer.chart) == (("0", "1"), ((46, "0"),))


BAD = [
    (HEAD + 'like = "modl"', 'like is "modl"; it must be one of'),
    (PIPE + VALVES + "4 = 99", "valves.4 is 99; it must be a whole number from 1 to 24"),
    (PIPE + VALVES + "9 = 2", "it must be drops by valve: 1, 2, 3, 4"),
    (PIPE.replace("12", "21") + VALVES, 'combinations, entry 4, is "21"; it must be "0" or'),
    (PIPE, 'combinations, entry 2, is "2"'),
    (PIPE + 'slide = true\ncompensating = "4"', 'combinations, entry 1, is "0"; it must be a pos'),
    (PIPE + 'compensating = "4"\n' + VALVES, 'compensating is "4"; it must be one of'),
    (PIPE.replace("34", "99"), "fundamental is 99; it must be a number from 10 to 70"),
    (PIPE + 'stopped_side = "F"\n' + VALVES, 'stopped_side is "F"'),
    (PIPE + "highest_partial = 24\n" + VALVES, "highest_partial is 24"),
    (PIPE + VALVES + "[used_as]\n123 = 5", "it must be semitones by combination: 0, 2, 1, 12"),
    (PIPE + VALVES + '[chart]\nC4 = "0"', 'chart.C4 is "0"; it must be a fingering that gives'),
    (PIPE + VALVES + '[chart]\nBb6 = "0"', "in the range"),
    (PIPE + VALVES + '[chart]\nH4 = "0"', "it must be by written notes such as"),
    (HEAD + '[tubes.F]\nfundamental = 29\nlever = "X"', 'tubes.F.lever is "X"'),
    (HEAD + "[tubes.F]\nfundamental = 29\nlength = 3", "unknown key tubes.F.length = 3"),
    (HEAD + "[crooks]\nEb = 2.5", "crooks.Eb is 2.5"),
]


@pytest.mark.parametrize(("text", "message"), BAD)
def test_bad_files(file, text, message):
    path = file(text)
    file(PIPE + VALVES, "model")
    with pytest.raises(FileError) as caught:
        read_instrument(path)
    assert message in str(caught.value)
    assert "odd.toml" in str(caught.value)


def test_like_one_that_is_like_another(file):
    file(PIPE + VALVES, "model")
    file(HEAD + 'like = "model"', "second")
    with pytest.raises(FileError, match="not like another one itself"):
        read_instrument(file(HEAD + 'like = "second"'))
    with pytest.raises(FileError, match="like is"):
        read_instrument(file(HEAD + 'like = "odd"'))


GOOD = "0 2 12 123 1234 24 T0 T123 H0 H12 7 T6 0+ T2+ 12+"


@pytest.mark.parametrize("text", GOOD.split())
def test_fingerings_in_words(text):
    assert is_fingering(text)
    note, _ = note_of(f"G4 1/8 ta {text}")
    assert note is not None
    assert (note.fingering, note.syllable) == (text, "ta")


ODD = "T H + 21 00 02 8 T8 TH0 X0 0T t0 0++ +0 11 67"


@pytest.mark.parametrize("text", ODD.split())
def test_no_fingerings(text):
    assert not is_fingering(text)
