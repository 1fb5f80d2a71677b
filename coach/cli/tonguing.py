"""`coach tonguing`: which syllable each note of a drill gets, and why it changes."""

from __future__ import annotations

import argparse
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path
from typing import Any

from coach.cli.chosen import add_chosen_options, chosen, write_result
from coach.cli.options import within
from coach.core.tonguing import (
    ORDERS,
    STYLES,
    Spoken,
    Style,
    single_up_to_bpm,
    tongue,
    without_syllables,
)
from coach.errors import CoachError


def add(commands: Any) -> None:
    parser = commands.add_parser("tonguing", help="syllables for a drill, every change explained")
    add_chosen_options(parser)
    parser.add_argument("--front", metavar="SYLLABLE", help="ta (default), da ...")
    parser.add_argument("--back", metavar="SYLLABLE", help="ka (default), ga ...")
    parser.add_argument(
        "--single-limit", type=float, metavar="HZ", help="notes a second that you single-tongue"
    )
    parser.add_argument("--style", metavar="HOW", help=f"{', '.join(STYLES)}: at any tempo")
    parser.add_argument(
        "--order", metavar="ORDER", help=f"of triple, t front, k back: {', '.join(ORDERS)}"
    )
    parser.add_argument("--strengthen", action="store_true", help="the back on the beat")
    parser.add_argument("--anew", action="store_true", help="set aside the syllables of the drill")
    parser.add_argument("--json", type=Path, metavar="OUT", help="write the result here")
    parser.set_defaults(run=run)


@dataclass(frozen=True, slots=True)
class _Job:
    """What is tongued, at what tempo and how."""

    drill: Any
    instrument: Any
    passage: Any
    tempo_bpm: float
    style: Style


def run(args: argparse.Namespace) -> int:
    job = _checked(args)
    spoken = tongue(job.passage, job.tempo_bpm, job.style)
    if args.json is None:
        _show(job, spoken, args.variant)
    else:
        write_result(args.json, {**_heading(job, args.variant), "notes": _rows(job, spoken)})
    return 0


def _checked(args: argparse.Namespace) -> _Job:
    style = _style(args)
    drill, instrument, passage, tempo_bpm = chosen(args)
    passage = without_syllables(passage) if args.anew else passage
    return _Job(drill, instrument, passage, tempo_bpm, style)


def _style(args: argparse.Namespace) -> Style:
    from coach.files.tonguing import FASTEST_LIMIT_HZ, SLOWEST_LIMIT_HZ, load_tonguing

    table = load_tonguing()
    limit_hz = within(args.single_limit, "--single-limit", SLOWEST_LIMIT_HZ, FASTEST_LIMIT_HZ)
    return replace(
        table.style,
        front=_one_of("--front", args.front, table.fronts) or table.style.front,
        back=_one_of("--back", args.back, table.backs) or table.style.back,
        order=_one_of("--order", args.order, ORDERS) or table.style.order,
        force=_one_of("--style", args.style, STYLES),
        single_limit_hz=limit_hz or table.style.single_limit_hz,
        back_on_beat=args.strengthen,
    )


def _one_of(name: str, value: str | None, allowed: tuple[str, ...]) -> str | None:
    if value is not None and value not in allowed:
        raise CoachError(f'{name} "{value}" is unknown', "", f"use {', '.join(allowed)}")
    return value


def _heading(job: _Job, variant: int) -> dict[str, Any]:
    return {
        "title": job.drill.title,
        "instrument": job.instrument.name,
        "variant": variant,
        "variants": len(job.drill.variants),
        "tempo_bpm": job.tempo_bpm,
        "single_limit_hz": job.style.single_limit_hz,
        "single_up_to_bpm": single_up_to_bpm(job.passage, job.style),
        "front": job.style.front,
        "back": job.style.back,
        "order": job.style.order,
        "style": job.style.force,
        "strengthen": job.style.back_on_beat,
    }


def _rows(job: _Job, spoken: tuple[Spoken, ...]) -> list[dict[str, Any]]:
    """The notes; `bar` counts from 1, `beat` in quarter notes from 1 inside its bar."""
    from coach.core.passage import bar_index
    from coach.core.pitch import name_of_midi, written_of_sounding

    rows, bars = [], job.passage.bars
    for note, said in zip(job.passage.notes, spoken, strict=True):
        bar = bar_index(bars, note.start_beats)
        place = note.start_beats - bars[bar].start_beats
        written = written_of_sounding(note.pitch, job.instrument.transposition)
        rows.append(
            {
                "index": said.index,
                "bar": job.passage.first_bar + bar,
                "beat": str(place + Fraction(1)),
                "onset_beats": str(note.start_beats),
                "written": name_of_midi(written, job.passage.fifths),
                "midi": note.pitch,
                "syllable": said.syllable,
                "slurred": note.slurred,
                "reason": said.reason,
            }
        )
    return rows


def _show(job: _Job, spoken: tuple[Spoken, ...], variant: int) -> None:
    from rich.console import Console

    from coach.screen.tonguing import tonguing_table
    from coach.screen.words import Spelling

    count = len(job.drill.variants)
    name = f", {job.passage.title}" if job.passage.title else ""
    lines = [job.drill.title + (f" ({variant} of {count}{name})" if count > 1 else "")]
    lines += [f"at {job.tempo_bpm:g} clicks a minute", _limit_words(job)]
    spelling = Spelling(job.instrument.transposition, job.passage.fifths)
    Console().print(tonguing_table(job.passage, spoken, spelling, lines))


def _limit_words(job: _Job) -> str:
    limit = f"a limit of {job.style.single_limit_hz:g} notes a second"
    ends_bpm = single_up_to_bpm(job.passage, job.style)
    if ends_bpm is None:
        return f"single tonguing does at any tempo, with {limit}"
    return f"single tonguing ends at {ends_bpm:.3g}, with {limit}"
