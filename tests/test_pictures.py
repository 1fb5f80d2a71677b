"""The README's pictures are there, small, and need nothing from elsewhere; `python -m
tests.pictures` remakes them."""

from __future__ import annotations

import re
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest

pictures = pytest.importorskip("tests.pictures")

README = Path(__file__).parent.parent / "README.md"
SHOWN = re.findall(r"!\[([^\]]*)\]\((\.pictures/[^)]+)\)", README.read_text(encoding="utf-8"))
KEPT = sorted(path.name for path in pictures.FOLDER.iterdir())
LARGEST_BYTES = 150_000


def test_the_readme_shows_every_picture_and_says_what_is_on_it():
    assert sorted(Path(path).name for _, path in SHOWN) == KEPT
    assert all(len(words) > 20 for words, _ in SHOWN)


@pytest.mark.parametrize("name", KEPT)
def test_pictures_are_small_and_whole(name):
    data = (pictures.FOLDER / name).read_bytes()
    assert len(data) < LARGEST_BYTES
    if name.endswith(".png"):
        assert data.startswith(b"\x89PNG")
        assert data.endswith(b"IEND\xaeB\x60\x82")
    else:
        ET.fromstring(data)
        asked = [word for word in re.findall(rb"https?://[^\"' )]+", data) if b"w3.org" not in word]
        assert asked == []


def test_a_picture_shows_what_is_drawn():
    drawn = ET.fromstring(pictures.svg("take 3   clean 9 of 12"))
    words = " ".join("".join(drawn.itertext()).replace("\N{NO-BREAK SPACE}", " ").split())
    assert words.endswith("take 3 clean 9 of 12")
