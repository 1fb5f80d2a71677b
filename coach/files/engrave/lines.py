"""Music to lines of music, with verovio: breaks, spacing and size so that all texts are apart."""

from __future__ import annotations

import itertools
import re
from collections.abc import Sequence
from typing import Any

from coach.files.engrave.marking import ENLARGED, marked
from coach.files.engrave.measure import (
    fingerings_crowded,
    fingerings_overlapping,
    syllables_touching,
)
from coach.files.engrave.music import Lines, Music, Picture, Voice
from coach.files.engrave.prepare import fingerings_of, prepared

# Verovio measures in tenths of a millimetre, its `unit` is an eighth of a staff.
TENTHS = 10
UNITS_IN_STAFF = 8
# A person of usual sight reads letters of 5 minutes of arc (the 20/20 line of an eye chart): 2.2 mm
# at the 1.5 m of a music stand; read with ease two to three times that.  Figures are 4.1 mm high,
# in brackets 3.6; small letters of syllables 2.2, their tall ones 3.6.
FIGURE_EM_MM = 6.7
SYLLABLE_EM_MM = 5.2
# Where a bar is too full for its line the whole of it is made smaller.
SHRINKS = (1.0, 0.9, 0.8, 0.7, 0.6, 0.5)
# Wider where fingerings are crowded.
SPACINGS = (0.3, 0.42, 0.55, 0.7, 0.9)
# Each in lines more: a fingering that is crowded, a bar alone in the last line.
CROWDED_COST, ORPHAN_COST = 2, 6
NOTE = re.compile(r'class="note"')
BAR = re.compile(r'class="measure"')
_OPTIONS: dict[str, Any] = {
    "header": "none",
    "footer": "none",
    "adjustPageHeight": True,
    "pageHeight": 6000,
    "pageMarginLeft": 35,
    "pageMarginRight": 5,
    "pageMarginTop": 30,
    "pageMarginBottom": 5,
    "lyricWordSpace": 2.0,
    "minLastJustification": 0.3,
    "svgViewBox": True,
    "svgRemoveXlink": True,
    "xmlIdSeed": 1,
}


def lines_of(job: Music) -> Lines:
    """The lines of one job, every line with the pictures of all its voices."""
    shrinks = SHRINKS[:1] if job.small else SHRINKS
    for shrink in shrinks:
        touching, _, best = min(
            (_attempt(job, shrink, spacing) for spacing in SPACINGS),
            key=lambda made: made[:2],
        )
        if not touching:
            break
    return tuple(tuple(_picture(svg) for svg in line) for line in zip(*best, strict=True))


def _attempt(job: Music, shrink: float, spacing: float) -> tuple[int, int, list[list[str]]]:
    """How many texts run into each other, what else is not nice, and the lines by voice."""
    voices = _voices(job, shrink, spacing)
    pages = [page for voice in voices for page in voice]
    wrong = sum(syllables_touching(page) + fingerings_overlapping(page) for page in pages)
    crowded = CROWDED_COST * sum(map(fingerings_crowded, pages))
    return wrong, crowded + len(pages) + _orphan_cost(voices[0]), voices


def _orphan_cost(pages: Sequence[str]) -> int:
    """For one bar with few notes in the last line."""
    notes = [len(NOTE.findall(page)) for page in pages]
    alone = len(pages) > 1 and _bars(pages[-1]) == 1 and notes[-1] < notes[-2] / 3
    return ORPHAN_COST if alone else 0


def _voices(job: Music, shrink: float, spacing: float) -> list[list[str]]:
    options = _options(job, shrink, spacing)
    first = _pages(prepared(job.voices[0].xml), options)
    counts = [_bars(page) for page in first]
    breaks = balanced(counts)
    if breaks == counts and len(job.voices) == 1:
        return [_marked(first, job.voices[0])]
    starts = list(itertools.accumulate(breaks[:-1]))
    fixed = {**options, "breaks": "encoded"}
    return [_marked(_pages(prepared(v.xml, starts), fixed), v) for v in job.voices]


def _bars(page: str) -> int:
    return len(BAR.findall(page))


def balanced(counts: Sequence[int]) -> list[int]:
    """Bars by line, none alone in the last one if the line before can spare one."""
    if len(counts) > 1 and counts[-1] == 1 and counts[-2] > 2:
        return [*counts[:-2], counts[-2] - 1, 2]
    return list(counts)


def _options(job: Music, shrink: float, spacing: float) -> dict[str, Any]:
    unit = job.staff_mm * shrink * TENTHS / UNITS_IN_STAFF
    whole = job.staff_mm * TENTHS / UNITS_IN_STAFF
    size = {
        "unit": unit,
        "spacingLinear": spacing,
        "pageWidth": round(job.width_mm * TENTHS),
        "lyricSize": 3.6 if job.small else SYLLABLE_EM_MM * TENTHS / whole,
        "fingeringScale": 0.9
        if job.small
        else FIGURE_EM_MM / ENLARGED * TENTHS / whole / _UNITS_IN_FIGURE,
    }
    if job.small:
        top = 9 if fingerings_of(job.voices[0].xml) else 2
        return {
            **_OPTIONS,
            **size,
            "breaks": "none",
            "adjustPageWidth": True,
            "pageMarginTop": top,
            "pageMarginLeft": 5,
        }
    return {**_OPTIONS, **size, "breaks": "auto", "systemMaxPerPage": 1}


# Verovio's fingerings of scale 1 have an em of so many units.
_UNITS_IN_FIGURE = 4.5


def _pages(xml: str, options: dict[str, Any]) -> list[str]:
    """One SVG a line."""
    import verovio

    verovio.enableLog(verovio.LOG_OFF)
    toolkit = verovio.toolkit()
    toolkit.setOptions(options)
    if not toolkit.loadData(xml):
        raise ValueError("verovio can't read this")
    return [toolkit.renderToSVG(page) for page in range(1, toolkit.getPageCount() + 1)]


def _marked(pages: Sequence[str], voice: Voice) -> list[str]:
    return marked(pages, fingerings_of(voice.xml), set(voice.underlined), set(voice.overlined))


def _picture(svg: str) -> Picture:
    found = re.search(r'viewBox="0 0 ([\d.]+) ([\d.]+)"', svg)
    if found is None:
        raise ValueError("a picture without size")
    width, height = (float(part) / TENTHS for part in found.groups())
    return Picture(svg, width, height)
