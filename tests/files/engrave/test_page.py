"""Pages out of a sheet: size, texts that typst could mistake for its own, boxes."""

from __future__ import annotations

import re
import struct
from fractions import Fraction

import pytest

from coach.core.passage import Passage, in_a_row
from coach.core.sheet import PlanLine, Sheet, SheetDrill, TempoMark
from coach.errors import CoachError
from coach.files.engrave import music, page
from coach.files.engrave.music import Picture
from coach.files.engrave.notesign import note_sign
from coach.files.engrave.page import Pictures, pages_of

MM_IN_INCH, POINTS_IN_INCH = 25.4, 72
# ISO 216 and ANSI/ASME Y14.1, in millimetres.
SIZES_MM = {"a4": (210, 297), "letter": (215.9, 279.4)}
PASSAGE = Passage(in_a_row([60, 62, 64, 65], Fraction(1)))
SQUARE = '<rect width="5" height="5"/>'
BLANK = f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {{0}} {{1}}">{SQUARE}</svg>'


def _picture(width_mm: float, height_mm: float) -> Picture:
    return Picture(BLANK.format(width_mm * 10, height_mm * 10), width_mm, height_mm)


def _sheet(title: str = "Scale", drills: int = 3) -> Sheet:
    made = (SheetDrill(f"drill {k}", "slowly", PASSAGE, (60, 80, 100)) for k in range(drills))
    return Sheet(
        title,
        "horn",
        TempoMark("quarter", 0, 120),
        (PlanLine("", PASSAGE),),
        ("x: y",),
        tuple(made),
    )


def _pages(sheet: Sheet, paper: str = "a4", kind: str = "svg", lines: int = 2) -> tuple[bytes, ...]:
    music_lines = tuple((_picture(180, 35),) for _ in range(lines))
    bars = tuple(_picture(60, 12) for _ in sheet.drills)
    return pages_of(sheet, Pictures(music_lines, bars), paper, kind)


@pytest.mark.parametrize("paper", SIZES_MM)
def test_pages_have_the_size_of_the_paper(paper):
    (pdf,) = _pages(_sheet(), paper, "pdf")
    assert pdf.startswith(b"%PDF")
    box = re.search(rb"/MediaBox\s*\[0 0 ([\d.]+) ([\d.]+)\]", pdf)
    points = tuple(float(part) for part in box.groups())
    assert points == pytest.approx([s * POINTS_IN_INCH / MM_IN_INCH for s in SIZES_MM[paper]], 1e-3)
    (png,) = _pages(_sheet(), paper, "png")
    pixels = struct.unpack(">II", png[16:24])
    wanted = [size * page.PIXELS_PER_INCH / MM_IN_INCH for size in SIZES_MM[paper]]
    assert pixels == pytest.approx(wanted, abs=1)


def test_more_music_takes_more_pages():
    assert len(_pages(_sheet(), lines=30)) > len(_pages(_sheet(), lines=3)) == 1


@pytest.mark.parametrize(
    "title",
    [
        '#hash *star* _under_ $x$ `tick` @at <tag> "quote" \\back // /* [brackets] {braces}',
        "#panic()",
        "\\",
        "= = =",
        "long " * 80,
        "Übung für F♯ und Ж",
        "二重奏",
    ],
)
def test_titles_are_never_read_as_source(title):
    assert _pages(_sheet(title))[0].startswith(b"<svg")


def test_another_title_is_another_page_and_the_same_one_the_same():
    once, again, other = (_pages(_sheet(t), kind="pdf") for t in ("One", "One", "Two"))
    assert once == again
    assert once != other


def test_without_the_package_it_says_how_to_get_it(monkeypatch):
    monkeypatch.setattr(music, "find_spec", lambda _: None)
    with pytest.raises(CoachError, match="python -m pip install typst"):
        _pages(_sheet())


def test_drills_that_just_do_not_fit_are_set_closer(monkeypatch):
    close = [len(_pages(_sheet(drills=drills), lines=1)) for drills in range(8, 18)]
    monkeypatch.setattr(page, "_saves_a_page", lambda *_: False)
    wide = [len(_pages(_sheet(drills=drills), lines=1)) for drills in range(8, 18)]
    assert (1, 2) in zip(close, wide, strict=True)
    assert all(a <= b for a, b in zip(close, wide, strict=True))


@pytest.mark.parametrize(
    ("value", "flags"), [("half", 0), ("quarter", 0), ("eighth", 1), ("16th", 2)]
)
def test_a_note_sign_has_its_flags_and_dots(value, flags):
    sign = note_sign(value, 1)
    assert sign.count("<path") == flags
    assert sign.count("<circle") == 1
    assert ('fill="none"' in sign) == (value == "half")
