"""`coach passage`: what is in a score, some bars of one part, its hard places; written anew."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from coach.cli.carried import add_carried_options
from coach.cli.loading import add_score_options, choice_of
from coach.cli.options import within
from coach.cli.saying import print
from coach.cli.typed import typed
from coach.cli.wrapping import columns
from coach.errors import CoachError, FileError

if TYPE_CHECKING:
    from coach.core.instrument import Instrument
    from coach.core.score.line import Line
    from coach.core.score.model import Part, Score

MOST_PLACES = 50


def add(commands: Any) -> None:
    parser = commands.add_parser("passage", help="notes out of a score; its parts and hard places")
    parser.add_argument("file", metavar="FILE", help="a score; or a drill, to write it with --out")
    parser.add_argument("--instrument", metavar="NAME", help="(default: the part's own)")
    add_score_options(parser)
    parser.add_argument(
        "--hard", type=int, metavar="N", help="the N hardest places of the part, as drills"
    )
    parser.add_argument(
        "--out", type=Path, metavar="FILE", help="write it: .toml (a drill), .musicxml, .mid, .abc"
    )
    parser.add_argument("--replace", action="store_true", help="write over a file that is there")
    parser.add_argument("--json", type=Path, metavar="OUT", help="write the result here")
    add_carried_options(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    if args.hard is not None:
        _hard(args)
    elif args.out is not None:
        from coach.cli.writing import write_passage

        print(write_passage(args))
    else:
        _tell(args)
    return 0


def _tell(args: argparse.Namespace) -> None:
    """Some bars of a part; without any options, all parts at a glance."""
    score = _score(args)
    if args.json is None and args.part is None and args.bars is None:
        _overview(args, score)
        return
    part = _part(args, score)
    line, instrument = _line(args, score, part)
    if args.json is None:
        _show(line, instrument, args.file)
        return
    from coach.cli.chosen import write_result
    from coach.core.score.partnames import instrument_of
    from coach.core.score.told import line_dict

    name = args.instrument or instrument_of(part.name, part.sound)
    result = line_dict(line, name)
    write_result(args.json, {**result, "parts": [each.name for each in score.parts]})


def _score(args: argparse.Namespace) -> Score:
    from coach.files.scorefile import read_score

    _refuse_drill(args.file)
    return read_score(Path(args.file))


def _refuse_drill(name: str) -> None:
    from coach.files.drillshelf import is_drill
    from coach.files.scorefile import is_score

    # What is in a file tells that it is a score, whatever its name.
    other = Path(name).is_file() and Path(name).suffix.lower() != ".toml"
    if is_drill(name) and not (is_score(name) or other):
        hint = f"write it with --out FILE, or print it: {typed('coach', 'sheet', name)}"
        raise CoachError("this is a drill, not a score", name, hint)


def _part(args: argparse.Namespace, score: Score) -> Part:
    """The part asked for; else the first for a brass instrument, or the first with notes."""
    from coach.core.score.choose import part_of
    from coach.core.score.partnames import instrument_of

    if args.part is not None:
        found: Part = _placed(args.file, lambda: part_of(score, args.part))
        return found
    with_notes = [part for part in score.parts if any(bar.heads for bar in part.bars)]
    brass = [part for part in with_notes if instrument_of(part.name, part.sound)]
    parts = brass or with_notes or score.parts
    if not parts:
        raise FileError("it has no parts", args.file, "choose another file")
    return parts[0]


def _line(args: argparse.Namespace, score: Score, part: Part) -> tuple[Line, Instrument]:
    from coach.core.score.choose import line_of
    from coach.core.score.partnames import instrument_of
    from coach.core.score.practise import as_written_for
    from coach.files.configs import load_instrument
    from coach.files.fitting import DEFAULT_INSTRUMENT

    choice = choice_of(args)
    known = args.instrument or instrument_of(part.name, part.sound)
    instrument = load_instrument(known or DEFAULT_INSTRUMENT)
    line = _placed(args.file, lambda: line_of(score, part, choice.bars, choice.reading))
    if score.sounding_only and known and choice.reading.crook is None:
        line = as_written_for(line, instrument)
    return line, instrument


def _placed(where: str, made: Any) -> Any:
    """What `made` gives; its error told with the file."""
    try:
        return made()
    except FileError:
        raise
    except CoachError as error:
        raise FileError(error.what, where, error.hint) from None


def _overview(args: argparse.Namespace, score: Score) -> None:
    from rich.console import Console

    from coach.core.score.choose import line_of
    from coach.core.score.overview import overview
    from coach.screen.score_parts import parts_table

    reading = choice_of(args).reading

    def views() -> list[Any]:
        lines = [(line_of(score, part, None, reading), part.sound) for part in score.parts]
        return [overview(line, sound) for line, sound in lines]

    console = Console(highlight=False)
    console.print(parts_table(score.title or Path(args.file).stem, _placed(args.file, views)))
    for remark in score.remarks:
        console.print(f"  {remark}", markup=False)
    console.print("\n  Choose a part with --part, its hardest places with --hard 5.", style="dim")


def _show(line: Line, instrument: Instrument, where: str) -> None:
    """The bars in words, as the instrument's player reads them."""
    from coach.core.score.practise import passage_of, tempo_of
    from coach.screen.written import passage_lines

    passage = _placed(where, lambda: passage_of(line, instrument))
    print(", ".join(filter(None, (line.title, line.part))))
    print(f"as the {instrument.title} reads it, {tempo_of(line, passage):.4g} clicks a minute")
    for text in passage_lines(passage, instrument.transposition, columns(sys.stdout)):
        print(text)
    for remark in line.remarks:
        print(remark)


def _hard(args: argparse.Namespace) -> None:
    from coach.cli.chosen import write_result
    from coach.core.score.hard import hard_places
    from coach.files.fingering import load_weights
    from coach.files.hard import load_hardness

    within(args.hard, "--hard", 1, MOST_PLACES)
    score = _score(args)
    part = _part(args, score)
    line, instrument = _line(args, score, part)
    figures = load_hardness()
    places = hard_places(line, instrument, load_weights(), figures, args.hard)
    commands = {place.bars: _command(args, score, part, place.bars) for place in places}
    if args.json is not None:
        found = [{**p.to_dict(), "command": commands[p.bars]} for p in places]
        write_result(args.json, {"title": line.title, "part": line.part, "places": found})
        return
    from rich.console import Console

    from coach.screen.score_parts import places_list

    heading = f"{line.part or Path(args.file).stem}: the hardest places"
    hard = sum(place.score >= figures.least for place in places)
    if hard < len(places):
        heading += f" ({hard or 'none'} of them hard at the marked tempo)"
    Console(highlight=False).print(places_list(heading, places, commands))
    if args.out is not None:
        from coach.cli.writing import write_places

        for path in write_places(args, [place.bars for place in places], part):
            print(f"Written: {path}")


def _command(args: argparse.Namespace, score: Score, part: Part, bars: str) -> str:
    """How to practise these bars, to be typed as it stands."""
    words = ["coach", "drill", args.file]
    if len(score.parts) > 1:
        words += ["--part", str(1 + score.parts.index(part))]
    words += ["--bars", bars]
    for name in ("instrument", "horn_in"):
        if getattr(args, name) is not None:
            words += [f"--{name.replace('_', '-')}", getattr(args, name)]
    words += ["--divisi", args.divisi] if args.divisi != "top" else []
    words += ["--old-bass-clef"] if args.old_bass_clef else []
    return typed(*words)
