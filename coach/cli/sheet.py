"""`coach sheet`: a page for the music stand: the passage with fingers and syllables, its drills."""

from __future__ import annotations

import argparse
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from coach.cli.carried import tongued
from coach.cli.chosen import add_chosen_options, chosen
from coach.cli.saying import print
from coach.errors import CoachError
from coach.files.output import check_free, write_whole

if TYPE_CHECKING:
    from coach.core.instrument import Instrument
    from coach.core.passage import Passage

KINDS = ("pdf", "png", "svg")
PAPERS = ("a4", "letter")
MOST_NOTES = 2000
STAFF_MM, SMALL_STAFF_MM = 9.2, 5.0


def add(commands: Any) -> None:
    parser = commands.add_parser("sheet", help="print a passage and its drills for the music stand")
    add_chosen_options(parser)
    kind = parser.add_mutually_exclusive_group()
    for name in KINDS:
        words = " (default)" if name == "pdf" else ": a file for each page"
        kind.add_argument(
            f"--{name}", dest="kind", action="store_const", const=name, help=name.upper() + words
        )
    parser.add_argument("--paper", default="a4", metavar="SIZE", help="a4 (default) or letter")
    parser.add_argument(
        "--out", type=Path, metavar="PATH", help="(default: NAME.pdf in this folder)"
    )
    parser.add_argument("--replace", action="store_true", help="write over a file that is there")
    parser.add_argument(
        "--plans", type=int, default=1, metavar="N", help="2: two ways to finger it, line by line"
    )
    parser.add_argument("--plain-notes", action="store_true", help="no fingerings, no syllables")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    kind, paper = _kind(args), _paper(args)
    drill, instrument, passage, tempo_bpm = chosen(args)
    if not passage.notes:
        raise CoachError("there are no notes in it", args.drill, "choose other bars")
    if len(passage.notes) > MOST_NOTES:
        what = f"{len(passage.notes)} notes are too many for a sheet"
        raise CoachError(what, args.drill, "choose fewer bars")
    stem = args.out.with_suffix("") if args.out else Path(Path(drill.name).stem or "sheet")
    _check_free(args, [stem.with_name(f"{stem.name}{end}.{kind}") for end in ("", "-1")])
    sheet = _sheet(args, drill, instrument, passage, tempo_bpm)
    pages = _pages(sheet, instrument, paper, kind, args.drill)
    _write(args, stem, kind, pages)
    return 0


def _kind(args: argparse.Namespace) -> str:
    """By option or by the suffix of --out."""
    suffix = args.out.suffix.lower().removeprefix(".") if args.out else ""
    if args.out and (suffix not in KINDS or (args.kind or suffix) != suffix):
        wanted = f".{args.kind}" if args.kind else ", ".join(f".{name}" for name in KINDS)
        raise CoachError("this suffix doesn't fit", str(args.out), f"use {wanted}")
    return suffix or args.kind or "pdf"


def _paper(args: argparse.Namespace) -> str:
    paper = str(args.paper).lower()
    if paper not in PAPERS:
        raise CoachError(f'--paper "{args.paper}" is unknown', "", f"use {' or '.join(PAPERS)}")
    if args.plans not in (1, 2):
        raise CoachError(f"--plans {args.plans} is no number of plans", "", "give 1 or 2")
    return paper


def _sheet(
    args: argparse.Namespace,
    drill: Any,
    instrument: Instrument,
    passage: Passage,
    tempo_bpm: float,
) -> Any:
    from coach.core.sheet import sheet_of
    from coach.files.building import load_building

    if args.plain_notes:
        return sheet_of(drill, instrument, [_plain(passage)], tempo_bpm, load_building())
    lines, remarks = _planned(args, instrument, tongued(passage, tempo_bpm), tempo_bpm)
    return sheet_of(drill, instrument, lines, tempo_bpm, load_building(), remarks)


def _plain(passage: Passage) -> Any:
    from coach.core.sheet import PlanLine

    notes = (replace(note, fingering=None, syllable=None) for note in passage.notes)
    return PlanLine("", replace(passage, notes=tuple(notes)))


def _planned(
    args: argparse.Namespace, instrument: Instrument, passage: Passage, tempo_bpm: float
) -> tuple[list[Any], list[str]]:
    """One line or two, and what is to be said about them."""
    from coach.cli.own import own_weights
    from coach.core.fingering.ask import NoFingeringError, problem_of
    from coach.core.fingering.explain import are_close
    from coach.core.fingering.planner import plans
    from coach.core.sheet import PlanLine, one_line, two_lines

    if not (instrument.valves or instrument.slide):
        return [PlanLine("", passage)], []
    try:
        found = plans(problem_of(passage, tempo_bpm, instrument, own_weights(instrument)), 2)
    except NoFingeringError as error:
        what = f"Fingerings are left out: note {error.index + 1} has none on the"
        print(f"{what} {instrument.title}.")
        return [PlanLine("", passage)], []
    ways = [[one.fingering for one in plan.chosen] for plan in found]
    close = len(found) > 1 and are_close(*found)
    if args.plans == 1:
        return one_line(passage, ways, close=close)
    if len(found) < 2:
        raise CoachError("there is only one way to finger this", args.drill, "leave --plans out")
    return two_lines(passage, ways, close=close)


def _pages(
    sheet: Any, instrument: Instrument, paper: str, kind: Any, where: str
) -> tuple[bytes, ...]:
    from coach.files.engrave.music import Music, engraved
    from coach.files.engrave.page import Pictures, pages_of, text_width_mm

    bpm = sheet.tempo.bpm
    width_mm = text_width_mm(paper)
    whole = Music(tuple(_voice(plan, instrument, bpm) for plan in sheet.plans), width_mm, STAFF_MM)
    bars = (_bar(drill.bar, instrument, bpm, width_mm) for drill in sheet.drills)
    lines, *small = engraved([whole, *bars], where)
    return pages_of(sheet, Pictures(lines, tuple(line[0][0] for line in small)), paper, kind)


def _voice(plan: Any, instrument: Instrument, bpm: float) -> Any:
    from coach.files.engrave.music import Voice
    from coach.files.musicxmlwrite import musicxml_text

    xml = musicxml_text(plan.passage, instrument, bpm, alternates=plan.alternates)
    fingered = [k for k, note in enumerate(plan.passage.notes) if note.fingering]
    places = {k: place for place, k in enumerate(fingered)}
    return Voice(
        xml,
        tuple(places[k] for k in sorted(plan.exchanges)),
        tuple(places[k] for k in sorted(plan.overlined)),
    )


def _bar(bar: Passage, instrument: Instrument, bpm: float, width_mm: float) -> Any:
    from coach.files.engrave.music import Music, Voice
    from coach.files.musicxmlwrite import musicxml_text

    return Music((Voice(musicxml_text(bar, instrument, bpm)),), width_mm, SMALL_STAFF_MM, True)


def _check_free(args: argparse.Namespace, paths: list[Path]) -> None:
    for path in paths:
        check_free(path, replace=args.replace)


def _write(args: argparse.Namespace, stem: Path, kind: str, pages: tuple[bytes, ...]) -> None:
    """One file, or one for each page."""
    ends = [""] if len(pages) == 1 else [f"-{k}" for k in range(1, len(pages) + 1)]
    paths = [stem.with_name(f"{stem.name}{end}.{kind}") for end in ends]
    _check_free(args, paths)
    for path, page in zip(paths, pages, strict=True):
        write_whole(path, page)
        print(path)
