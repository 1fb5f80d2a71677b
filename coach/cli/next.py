"""`coach next`: what the last takes have in common, and the drill for it."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

from coach.cli.chosen import write_result
from coach.cli.lately import charted, drill_of, judged
from coach.cli.options import within
from coach.cli.record import book_path, own_book
from coach.cli.saying import print
from coach.cli.typed import typed
from coach.cli.wrapping import columns, in_rows
from coach.errors import CoachError

if TYPE_CHECKING:
    from coach.core.exercise import Drill
    from coach.core.findings import Finding, Judged
    from coach.core.instrument import Instrument
    from coach.core.passage import MeterChange, Note, Passage

TAKES, MOST_TAKES = 12, 200
MOST_TOLD = 3


def add(commands: Any) -> None:
    parser = commands.add_parser("next", help="what to drill next: the pattern in your mistakes")
    parser.add_argument("drill", nargs="?", metavar="DRILL", help="(default: the one played last)")
    parser.add_argument(
        "--takes",
        type=int,
        default=TAKES,
        metavar="N",
        help=f"how many to look at (default: {TAKES})",
    )
    parser.add_argument("--out", metavar="NAME", help="name of the new drill, or a .toml")
    parser.add_argument("--replace", action="store_true", help="write over a drill of this name")
    parser.add_argument("--json", type=Path, metavar="OUT", help="write the result here")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    from coach.core.findings import find, no_pattern

    within(args.takes, "--takes", 1, MOST_TAKES)
    takes, kept = _takes(args)
    drill, instrument = drill_of(kept)
    findings = find(takes, fingerings=charted(instrument))
    said = [finding.sentence for finding in findings[:MOST_TOLD]] or [no_pattern(takes)]
    for sentence in said:
        print("\n".join(in_rows(sentence, columns(sys.stdout))))
    path = _write(args, drill, instrument, findings[0]) if findings else None
    if path is not None:
        command = typed("coach", "drill", args.out or path.stem)
        print(f"Written: {path}\nPractise it with: {command}")
    if args.json is not None:
        result = _result(drill, len(takes), findings, said, path)
        write_result(args.json, result, private=True)
    return 0


def _takes(args: argparse.Namespace) -> tuple[list[Judged], Any]:
    """The takes asked for, judged again by their rules; and the last one as it was kept."""
    name = None if args.drill is None else Path(args.drill).stem
    kept = []
    if book_path().exists():
        with own_book() as book:
            kept = book.latest(args.takes, name)
    if not kept:
        what = f"there are no takes of {name} yet" if name else "there are no takes yet"
        raise CoachError(what, "", f"play some first: coach drill {name or 'NAME'}")
    return judged(kept), kept[-1]


def _write(
    args: argparse.Namespace, drill: Drill, instrument: Instrument, finding: Finding
) -> Path:
    """Write the drill for the strongest finding; under a name that was given nothing is written
    over unasked."""
    from coach.cli.writing import text_of_drill
    from coach.core.findings import drill_for
    from coach.files.drillwrite import drill_path, write_drill

    made = drill_for(finding, drill)
    try:
        text = text_of_drill(replace(made, variants=(in_one(made.variants),)), instrument)
    except ValueError as error:
        what = f"the drill for it can't be written: {error}"
        raise CoachError(what, made.name, "practise other bars") from None
    path = drill_path(args.out or made.name)
    write_drill(path, text, replace=args.replace or args.out is None)
    return path


def in_one(passages: Sequence[Passage]) -> Passage:
    """One after the other, a bar of rest between them: a drill file holds one passage."""
    from coach.core.passage import MeterChange

    notes: list[Note] = []
    changes: list[MeterChange] = []
    start, before = Fraction(0), passages[0]
    meter = (before.bar_beats, before.pulse_beats)
    for passage in passages:
        first = MeterChange(start, passage.bar_beats, passage.pulse_beats)
        for change in (first, *(_later(c, start) for c in passage.changes)):
            if (change.bar_beats, change.pulse_beats) != meter:
                changes.append(change)
                meter = (change.bar_beats, change.pulse_beats)
        notes += [replace(note, start_beats=note.start_beats + start) for note in passage.notes]
        start += passage.length_beats + meter[0]
    return replace(before, notes=tuple(notes), title="", changes=tuple(changes), first_bar=1)


def _later(change: MeterChange, beats: Fraction) -> MeterChange:
    return replace(change, start_beats=change.start_beats + beats)


def _result(
    drill: Drill, takes: int, findings: Sequence[Finding], said: Sequence[str], path: Path | None
) -> dict[str, Any]:
    return {
        "drill": drill.name,
        "takes": takes,
        "said": list(said),
        "findings": [
            {
                "kind": finding.kind,
                "sentence": finding.sentence,
                "chance": float(f"{finding.chance:.3g}"),
                "count": finding.count,
                "of": finding.of,
                "passage": finding.passage.title,
                "notes": list(finding.notes),
            }
            for finding in findings
        ],
        "written": None if path is None else str(path),
    }
