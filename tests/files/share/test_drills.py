"""Drill files that come along: read by our loader before anything is written, never written over
another, under no name that is more than a name."""

from __future__ import annotations

import pytest

from coach.errors import FileError
from coach.files.configs import data_folder, own_folder
from coach.files.share import drills as module
from coach.files.share.drills import ArrivingDrills, own_drill_text, shipped_drill_text

TEXT = 'title = "{}"\n[passage]\nnotes = ["C4 1/4"]\n[tempo]\nfrom = 60\nto = 70\n'


def text(title: str = "One") -> str:
    return TEXT.format(title)


def own(name: str) -> str:
    return (own_folder() / "drills" / f"{name}.toml").read_text("utf-8")


def arrived(*pairs: tuple[str, str]) -> ArrivingDrills:
    drills = ArrivingDrills()
    for name, content in pairs:
        drills.add(name, content, "file, line 2")
    return drills


def test_nothing_is_written_before_all_was_read():
    drills = arrived(("mine", text()))
    assert not own_folder().exists() or not (own_folder() / "drills").exists()
    drills.write()
    assert own("mine") == text() == own_drill_text("mine")
    assert drills.names == {"mine": "mine"}
    assert drills.written == ["mine"]


def test_the_same_again_is_there_already():
    arrived(("mine", text())).write()
    again = arrived(("mine", text().replace("\n", "\r\n")))
    assert again.written == []
    assert again.names == {"mine": "mine"}


def test_a_different_one_is_kept_beside():
    arrived(("mine", text("One"))).write()
    for _ in range(2):
        two = arrived(("mine", text("Two")))
        assert two.names == {"mine": "mine-2"}
        two.write()
    three = arrived(("mine", text("Three")))
    assert three.names == {"mine": "mine-3"}
    assert (own("mine"), own("mine-2")) == (text("One"), text("Two"))


def test_two_of_one_name_in_one_file():
    drills = arrived(("mine", text("One")), ("mine", text("Two")), ("mine", text("One")))
    drills.write()
    assert (own("mine"), own("mine-2")) == (text("One"), text("Two"))


def test_shipped_drills_are_neither_copied_nor_hidden():
    shipped = shipped_drill_text("turns")
    assert shipped == (data_folder("drills") / "turns.toml").read_text("utf-8")
    assert arrived(("turns", shipped)).written == []
    assert arrived(("turns", text())).names == {"turns": "turns-2"}


def test_a_long_name_has_room_for_its_number():
    arrived(("a" * 64, text("One"))).write()
    assert arrived(("a" * 64, text("Two"))).names["a" * 64] == f"{'a' * 62}-2"


@pytest.mark.parametrize(
    "name",
    [
        "../x",
        "a/b",
        "a\\b",
        ".x",
        "",
        "x.toml",
        "C:x",
        "~",
        "con",
        "lpt1",
        "Ä",
        "x\n",
        "-x",
        "a" * 65,
    ],
)
def test_names_that_are_more_than_names(name):
    with pytest.raises(FileError, match="no name for a drill file"):
        arrived((name, text()))


@pytest.mark.parametrize(
    ("content", "word"),
    [
        ("= 1", "not TOML"),
        ('title = "x"', "line 2: mine.toml"),
        (text() + "more = 1\n", "unknown key"),
        ("a = " + "[" * 10_000, "mine.toml"),
        (f"x = {'9' * 5000}", "mine.toml"),
        ("# " + "x" * 1_000_001, "over a megabyte"),
        (text("\\u001b[2J"), "can't be shown"),
        ('about = "\\u202e"\n' + text(), "can't be shown"),
        (text().replace('["C4 1/4"]', '["C4 1/4"' + ', "C4 1/4"' * 2500 + "]"), "mine.toml"),
    ],
)
def test_what_is_no_drill(content, word):
    drills = arrived(("good", text()))
    with pytest.raises(FileError, match=word) as error:
        drills.add("mine", content, "file, line 2")
    assert str(error.value).startswith("file, line 2: ")


def test_too_many(monkeypatch):
    monkeypatch.setattr(module, "MAX_DRILLS", 2)
    with pytest.raises(FileError, match="too many"):
        arrived(*[(f"x{n}", text()) for n in range(3)])
    monkeypatch.setattr(module, "MAX_DRILL_LETTERS", 100)
    with pytest.raises(FileError, match="too many"):
        arrived(("a", text()), ("b", text()))


def test_what_can_t_be_written_leaves_nothing():
    drills = arrived(("a", text("A")), ("b", text("B")))
    (own_folder() / "drills" / "b.toml.part").mkdir(parents=True)
    with pytest.raises(FileError, match="can't be written"):
        drills.write()
    assert not (own_folder() / "drills" / "a.toml").exists()


def test_taken_back():
    arrived(("old", text())).write()
    drills = arrived(("old", text()), ("new", text()))
    drills.write()
    drills.take_back()
    assert own("old") == text()
    assert not (own_folder() / "drills" / "new.toml").exists()
