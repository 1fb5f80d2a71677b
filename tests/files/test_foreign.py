"""Files as other systems leave them: with a mark at the start, other ends of lines, titles in other
letters."""

from __future__ import annotations

import codecs
import unicodedata
from fractions import Fraction
from pathlib import Path
from types import SimpleNamespace

import pytest

from coach.cli.typed import typed
from coach.core.tutti.bars import Positions
from coach.files.configs import own_folder
from coach.files.drillshelf import is_drill, load_drill
from coach.files.eventlog import EventLog, read_events
from coach.files.fingering import read_fingerings
from coach.files.positions import read_positions, write_positions
from coach.files.scoredrill import drill_name
from coach.files.share.lines import read_records
from tests.files.share.test_lines import HEADER, write_records


def as_windows_saves_it(path: Path) -> Path:
    path.write_bytes(codecs.BOM_UTF8 + path.read_bytes().replace(b"\n", b"\r\n"))
    return path


def test_files_that_an_editor_on_windows_has_saved(tmp_path):
    path = tmp_path / "f"
    path.write_text('["T0",\n"2"]', encoding="utf-8")
    assert read_fingerings(as_windows_saves_it(path), 2) == ("T0", "2")
    places = Positions(48000, (Fraction(0), Fraction(4)), (0, 96000), (1.0, 1.0))
    write_positions(path, places, "hand")
    assert read_positions(as_windows_saves_it(path)) == places
    path = tmp_path / "events"
    with EventLog(path) as log:
        log.write({"event": "é"})
    assert path.read_bytes().endswith(b"}\n")
    assert read_events(as_windows_saves_it(path)) == [{"event": "é"}]
    write_records(path, [HEADER])
    assert [record for _, record in read_records(as_windows_saves_it(path))] == [HEADER]


def named(stem: str) -> str:
    line: object = SimpleNamespace(part="Horn 1")
    return drill_name(Path(f"{stem}.mxl"), line, "5-8")  # type: ignore[arg-type]


def test_scores_with_titles_in_other_letters_are_told_apart():
    assert named("March") == "march-horn-1-bars-5-8"
    assert named("1812") == "1812-horn-1-bars-5-8"
    assert named("Übung") == "bung-horn-1-bars-5-8"
    names = {named(stem) for stem in ("Марш", "Вальс", "行進曲", "ワルツ", "Марш 2")}
    assert len(names) == 5
    apart = unicodedata.normalize("NFD", "Ёлка")
    assert apart != "Ёлка"
    assert named(apart) == named("Ёлка")


def test_a_drill_is_found_however_its_file_spells_a_letter_with_a_mark():
    """macOS keeps names as they come, and some programs take letters and marks apart."""
    folder = own_folder() / "drills"
    folder.mkdir(parents=True)
    text = '[passage]\nnotes = ["C4 1/4"]\n[tempo]\nfrom = 60\nto = 90\n'
    (folder / unicodedata.normalize("NFD", "übung.toml")).write_text(text, encoding="utf-8")
    for name in ("übung", unicodedata.normalize("NFD", "übung")):
        assert load_drill(name)[0].name == "übung"
        assert is_drill(name)


@pytest.mark.parametrize(
    ("platform", "line"),
    [
        ("linux", "coach drill 'my horn/a b.toml' --part 2"),
        ("darwin", "coach drill 'my horn/a b.toml' --part 2"),
        ("win32", 'coach drill "my horn/a b.toml" --part 2'),
    ],
)
def test_commands_are_quoted_as_the_shell_wants_it(monkeypatch, platform, line):
    monkeypatch.setattr("coach.cli.typed.sys.platform", platform)
    assert typed("coach", "drill", "my horn/a b.toml", "--part", "2") == line
