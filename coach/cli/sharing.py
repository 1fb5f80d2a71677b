"""What the commands share that write and read files of records."""

from __future__ import annotations

import contextlib
import re
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from coach.cli.saying import print
from coach.errors import FileError

if TYPE_CHECKING:
    from coach.book.leaving import Leaving
    from coach.core.exercise import Exercise

_BARS = re.compile(r"-bars-[0-9]+(-[0-9]+)?$")
_MOST_TOLD = 5
_KINDS = {
    "passage": ("version of a passage", "versions of passages"),
    "elsewhere": ("entry of playing elsewhere", "entries of playing elsewhere"),
}


def check_target(path: Path, endings: Sequence[str], *, replace: bool) -> None:
    """FileError for another ending, and for a file that is there already."""
    from coach.files.output import check_free

    if path.suffix.lower() not in endings:
        hint = f"use {' or '.join(endings)}"
        raise FileError(f'the ending "{path.suffix}" is unknown', str(path), hint)
    check_free(path, replace=replace)


@contextlib.contextmanager
def progress(what: str, total: int) -> Iterator[Callable[[int], None]]:
    """A bar on the error output, if that is a terminal; call it with how much more is done."""
    if not sys.stderr.isatty():
        yield lambda more: None
        return
    from rich.console import Console
    from rich.progress import Progress

    console = Console(stderr=True)
    with Progress(console=console, transient=True, redirect_stdout=False) as bar:
        task = bar.add_task(what, total=total)
        yield lambda more: bar.advance(task, more)


def header(made_utc: str, purpose: str, player: Any, assignment: str | None) -> dict[str, Any]:
    """The first line of a file."""
    from coach import __version__
    from coach.files.share.schema import FORMAT, VERSION

    return {
        "record": "header",
        "format": FORMAT,
        "version": VERSION,
        "purpose": purpose,
        "written_by": f"coach {__version__}",
        "made_utc": made_utc,
        "player": player,
        "assignment": assignment,
    }


def drill_records(names: Iterable[str]) -> Iterator[dict[str, Any]]:
    """The player's own drill files that takes of these names are of."""
    from coach.core.planning.worked import passage_of
    from coach.files.share.drills import own_drill_text

    bare = {
        name for one in names for name in (one, passage_of(one), _BARS.sub("", passage_of(one)))
    }
    for name in sorted(bare):
        text = own_drill_text(name)
        if text is not None:
            yield {"record": "drill", "name": name, "text": text}


def write_leaving(
    path: Path, leaving: Leaving, records: Iterable[Mapping[str, Any]], what: str
) -> None:
    """Write the records, with a bar for the takes; what had to be left out is told."""
    from coach.files.share.lines import write_records

    with progress(what, len(leaving.takes)) as done:
        left_out = write_records(path, _counted(records, done))
    tell_left_out([*leaving.left_out, *left_out])


def _counted(
    records: Iterable[Mapping[str, Any]], done: Callable[[int], None]
) -> Iterator[Mapping[str, Any]]:
    for record in records:
        yield record
        if record["record"] == "take":
            done(1)


def tell_left_out(sentences: Sequence[str]) -> None:
    for sentence in sentences[:_MOST_TOLD]:
        print(f"coach: {sentence}", file=sys.stderr)
    if len(sentences) > _MOST_TOLD:
        print(f"coach: and {len(sentences) - _MOST_TOLD} more like this", file=sys.stderr)


def usual_fingerings() -> Callable[[str, Exercise], Sequence[str | None]]:
    """The usual fingerings on an instrument by its name; CoachError for an unknown one."""
    from coach.cli.lately import charted
    from coach.files.configs import load_instrument

    known: dict[str, Any] = {}

    def of(instrument: str, exercise: Exercise) -> Sequence[str | None]:
        if instrument not in known:
            known[instrument] = charted(load_instrument(instrument))
        found: Sequence[str | None] = known[instrument](exercise)
        return found

    return of


def counted(counts: Mapping[str, int]) -> str:
    """ "12 takes, 1 goal", takes first."""
    kinds = sorted(counts, key=lambda kind: (kind != "take", list(counts).index(kind)))
    return ", ".join(f"{counts[kind]:,} {_words(kind, counts[kind])}" for kind in kinds)


def _words(kind: str, count: int) -> str:
    one, more = _KINDS.get(kind, (kind, f"{kind}s"))
    return one if count == 1 else more
