"""A score at a glance: its parts, the brass first to be seen, and the hard places of one part."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from rich.box import SIMPLE_HEAD
from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from coach.core.score.hard import HardPlace
from coach.core.score.overview import PartView
from coach.core.score.runs import Run
from coach.screen.style import BOLD, DIM
from coach.screen.words import printable

BRASS_MARK = "●"
MOST_KEYS = 3
MOST_ALSO = 4
_MAJOR_KEYS = (
    "Cb", "Gb", "Db", "Ab", "Eb", "Bb", "F", "C", "G", "D", "A", "E", "B", "F#", "C#",
)  # fmt: skip
UNMARKED = "No tempo is marked: the rates are for 120 quarter notes a minute."


def parts_table(title: str, views: Sequence[PartView]) -> RenderableType:
    """All parts in the order of the score, by number from 1; those of brass are marked."""
    table = _table()
    table.add_column("  part", justify="right", no_wrap=True)
    table.add_column("", no_wrap=True)
    for heading in ("name", "in", "key", "written"):
        table.add_column(heading)
    table.add_column("notes", justify="right", no_wrap=True)
    table.add_column("fastest run, notes a second")
    for number, view in enumerate(views, 1):
        table.add_row(*_row(number, view), style=None if view.instrument else DIM)
    words = [f"{BRASS_MARK} brass.  Key: as the part is written, named as if major."]
    if any(not run.marked for view in views for run in view.runs[:1]):
        words.append(UNMARKED)
    return Group(_heading(_titled(title, views)), Text(), table, _below(words))


def _titled(title: str, views: Sequence[PartView]) -> str:
    """Parts of one score have the same bars."""
    bars = f"bars {_bars(views[0].first, views[0].last)}" if views else "no parts"
    return f"{title}, {bars}" if title else bars


def _row(number: int, view: PartView) -> list[Text]:
    brass = bool(view.instrument)
    return [
        Text(str(number)),
        Text(BRASS_MARK if brass else ""),
        Text(printable(view.part), style=BOLD if brass else ""),
        Text(printable(view.crook)),
        Text(_keys(view)),
        Text(f"{view.written[0].name} {view.written[1].name}" if view.written else ""),
        Text(str(view.notes)),
        Text(run_words(view.runs[0]) if view.runs else ""),
    ]


def run_words(run: Run) -> str:
    """ "bars 41-44: 12.3, tongued"; the figure is notes a second."""
    if run.tongued == run.notes:
        tongue = "tongued"
    else:
        tongue = "slurred" if run.tongued <= 1 else f"{run.tongued}/{run.notes} tongued"
    where = printable(_bars(run.first, run.last))
    word = "bar" if run.first == run.last else "bars"
    return f"{word} {where}: {run.rate_hz:.1f}, {tongue}"


def places_list(
    heading: str, places: Sequence[HardPlace], commands: Mapping[str, str]
) -> RenderableType:
    """The hard places by rank: bars, why, and how to practise them; `commands` by `HardPlace.bars`,
    such as "coach drill FILE --part 3 --bars 41-44"."""
    if not places:
        words = "No bar of this part asks anything at the marked tempo."
        return Group(_heading(heading), _below([words]))
    table = _table()
    table.add_column("  #", justify="right", no_wrap=True)
    table.add_column("bars", style=BOLD, no_wrap=True)
    table.add_column("why, and how to practise it")
    for rank, place in enumerate(places, 1):
        table.add_row(str(rank), Text(printable(place.bars)), _why(place, commands))
    return Group(_heading(heading), Text(), table)


def _why(place: HardPlace, commands: Mapping[str, str]) -> Text:
    lines = [Text(printable(", ".join(place.why)))]
    if place.also:
        more = len(place.also) - MOST_ALSO
        others = ", ".join(place.also[:MOST_ALSO]) + (f" and {more} more" if more > 0 else "")
        lines.append(Text(printable(f"the same in {others}"), style=DIM))
    lines.append(Text(printable(commands.get(place.bars, "")), style=DIM))
    return Text("\n").join(line for line in lines if line)


def _table() -> Table:
    return Table(box=SIMPLE_HEAD, padding=(0, 1, 0, 0), pad_edge=False, show_edge=False)


def _heading(title: str) -> Text:
    return Text(f"  {printable(title)}", style=BOLD)


def _below(lines: Sequence[str]) -> Padding:
    return Padding(Text("\n".join(lines), style=DIM), (1, 0, 0, 2))


def _bars(first: str, last: str) -> str:
    return first if first == last else f"{first}-{last}"


def _keys(view: PartView) -> str:
    """The keys in order, the first few of many."""
    names = list(dict.fromkeys(key_name(fifths) for _, fifths in view.keys))
    return " ".join(names[:MOST_KEYS]) + (" ..." if len(names) > MOST_KEYS else "")


def key_name(fifths: int) -> str:
    """The major key of a signature: "Eb" for -3; beyond seven signs as many as there are."""
    if abs(fifths) <= 7:
        return _MAJOR_KEYS[fifths + 7]
    return f"{abs(fifths)} {'sharps' if fifths > 0 else 'flats'}"
