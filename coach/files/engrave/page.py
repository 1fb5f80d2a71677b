"""A sheet and its pictures to pages, with typst."""

from __future__ import annotations

import json
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from coach.core.sheet import Sheet
from coach.errors import FileError
from coach.files.engrave.music import Lines, Picture, needed
from coach.files.engrave.notesign import note_sign

# Width and height.
PAPERS_MM = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
MARGIN_MM = 12.0
Kind = Literal["pdf", "png", "svg"]
# Fine enough for print: the thinnest line, of a staff, is over one dot wide.
PIXELS_PER_INCH = 200
TEMPLATE = Path(__file__).with_name("sheet.typ")
# Latin, Greek and Cyrillic are in the fonts that typst brings along; for others this computer's.
OWN_FONTS_UP_TO = 0x52F


@dataclass(frozen=True, slots=True)
class Pictures:
    """Everything engraved for a sheet: the lines of its plans, one small picture a drill."""

    lines: Lines
    bars: tuple[Picture, ...]


def text_width_mm(paper: str) -> float:
    return PAPERS_MM[paper][0] - 2 * MARGIN_MM


def pages_of(sheet: Sheet, pictures: Pictures, paper: str, kind: Kind) -> tuple[bytes, ...]:
    """The pages as PNG or SVG, or one PDF with all of them; CoachError without typst."""
    needed("typst")
    # Should another program look into it at its end (Windows), the pages are worth more.
    with tempfile.TemporaryDirectory(prefix="coach-sheet-", ignore_cleanup_errors=True) as name:
        folder = Path(name)
        _laid_out(folder, sheet, pictures, paper)
        own = _needs_no_other_font(sheet)
        try:
            dense = _saves_a_page(folder, own)
            return _compiled(folder, own, kind, dense=dense)
        except RuntimeError as error:
            reason = str(error).splitlines()[0]
            what = f"the page can't be laid out ({reason})"
            raise FileError(what, sheet.title, "take fewer bars, or --plain-notes") from None


def _saves_a_page(folder: Path, own_fonts: bool) -> bool:
    """Whether drills closer together need a page less."""
    counts = [len(_compiled(folder, own_fonts, "svg", dense=dense)) for dense in (False, True)]
    return counts[1] < counts[0]


def _compiled(folder: Path, own_fonts: bool, kind: Kind, *, dense: bool) -> tuple[bytes, ...]:
    import typst

    made = typst.compile(
        str(folder / "sheet.typ"),
        root=str(folder),
        format=kind,
        ppi=PIXELS_PER_INCH,
        ignore_system_fonts=own_fonts,
        sys_inputs={"dense": "yes" if dense else "no"},
        timestamp=0,
    )
    return (made,) if isinstance(made, bytes) else tuple(made or ())


def _needs_no_other_font(sheet: Sheet) -> bool:
    return all(ord(letter) <= OWN_FONTS_UP_TO for letter in sheet.title + sheet.details)


def _laid_out(folder: Path, sheet: Sheet, pictures: Pictures, paper: str) -> None:
    """All files that the template reads; texts are data to it, never part of its source."""
    (folder / "sheet.typ").write_bytes(TEMPLATE.read_bytes())
    data = _data(folder, sheet, pictures, paper)
    (folder / "sheet.json").write_text(json.dumps(data), encoding="utf-8")


def _data(folder: Path, sheet: Sheet, pictures: Pictures, paper: str) -> dict[str, Any]:
    width_mm, height_mm = PAPERS_MM[paper]
    return {
        "width": width_mm,
        "height": height_mm,
        "margin": MARGIN_MM,
        "title": sheet.title,
        "details": sheet.details,
        "tempo": f"{sheet.tempo.bpm:g}",
        "sign": _sign(folder, sheet),
        "labels": [plan.label for plan in sheet.plans],
        "lines": [_stored(folder, f"line-{k}", line) for k, line in enumerate(pictures.lines)],
        "legend": list(sheet.legend),
        "drills": _drills(folder, sheet, pictures.bars),
        "caution": sheet.caution,
    }


def _sign(folder: Path, sheet: Sheet) -> str:
    """The file of the note before the tempo; "" where there is none."""
    if not sheet.tempo.value:
        return ""
    svg = note_sign(sheet.tempo.value, sheet.tempo.dots)
    (folder / "sign.svg").write_text(svg, encoding="utf-8")
    return "sign.svg"


def _stored(folder: Path, name: str, pictures: Sequence[Picture]) -> list[dict[str, Any]]:
    stored = []
    for k, picture in enumerate(pictures):
        file = f"{name}-{k}.svg"
        (folder / file).write_text(picture.svg, encoding="utf-8")
        stored.append({"file": file, "width": picture.width_mm, "height": picture.height_mm})
    return stored


def _drills(folder: Path, sheet: Sheet, bars: Sequence[Picture]) -> list[dict[str, Any]]:
    shown = zip(sheet.drills, _stored(folder, "bar", bars), strict=True)
    return [
        {
            "name": drill.name,
            "how": drill.how,
            "bar": bar,
            "tempi": [f"{bpm:g}" for bpm in drill.bpms],
        }
        for drill, bar in shown
    ]
