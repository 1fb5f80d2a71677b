"""The tuner's screen: the note, how far it lies from its place, and how the last long tone moved.

    low ·······················─────┼─────·······▼··············· high

The mark stands where the note is: left is low, right is high, inside the line is in tune.  The
scale never changes, so that the eye can learn it from afar.
"""

from __future__ import annotations

from typing import Self, TextIO

from rich.console import Console
from rich.text import Text

from coach.core.pitch import name_of_midi, written_of_sounding
from coach.core.tuning import LongTone, TunerView, Tuning, just_cents
from coach.screen.font import big, big_note
from coach.screen.linewriter import LineWriter
from coach.screen.page import Block, Lines, fit, line
from coach.screen.ruler import odd
from coach.screen.style import BOLD, DIM, MARKS, NOW
from coach.screen.whole import WholeTerminal
from coach.screen.words import printable

REACH_CENTS, CLOSE_CENTS = 50.0, 5.0
STEADY = 0.5
SCALE = 2


def tuner_lines(view: TunerView, width: int, height: int, hint: str = "") -> list[Text]:
    """The picture in a window of this size."""
    blocks = [
        Block([line((_against(view.tuning), DIM))], rank=3),
        Block(_big_rows(view)),
        Block(_ruler(view, width)),
        Block([line((_word(view), BOLD))]),
        Block(_tone_rows(view), rank=1),
        Block([line((printable(view.notice), DIM))] if view.notice else [], rank=2),
        Block([line((hint, DIM))] if hint else [], rank=4),
    ]
    return fit(blocks, height)


def _big_rows(view: TunerView) -> list[Text]:
    """Note and cents in big letters; dashes of the same height where nothing sounds."""
    if view.midi is None:
        return [line((row, DIM)) for row in big("--", SCALE)]
    note = big_note(_name(view.midi), SCALE)
    cents = big(f"{view.cents:+.0f}", SCALE)
    written = _written(view.midi, view)
    rows = [
        line((a, NOW), "   ", (b, _style(view.cents))) for a, b in zip(note, cents, strict=True)
    ]
    rows[-1].append(f" cents{written}", style=DIM)
    return rows


def _style(cents: float) -> object:
    return MARKS["clean"].style if abs(cents) <= CLOSE_CENTS else BOLD


def _written(midi: int, view: TunerView) -> str:
    if not view.transposition:
        return ""
    return f"   written {_name(written_of_sounding(midi, view.transposition))}"


def _ruler(view: TunerView, width: int) -> list[Text]:
    """Mark, scale and figures: three lines."""
    cells = odd(max(21, width - 14))
    half = cells // 2
    inside = max(1, round(CLOSE_CENTS / REACH_CENTS * half))
    outside = "·" * (half - inside)
    scale = f"{outside}{'─' * inside}┼{'─' * inside}{outside}"
    figures = _figures(cells, half)
    mark = " " * cells
    if view.midi is not None:
        place = half + round(max(-1.0, min(1.0, view.cents / REACH_CENTS)) * half)
        low = max(0, min(cells - 3, place - 1))
        mark = " " * low + "▼▼▼" + " " * (cells - low - 3)
    return [
        line("     ", mark),
        line(("low  ", DIM), scale, ("  high", DIM)),
        line("     ", figures),
    ]


def _figures(cells: int, half: int) -> str:
    row = [" "] * cells
    for value in (-50, -25, 0, 25, 50):
        text = f"{value:+d}" if value else "0"
        at = half + round(value / REACH_CENTS * half) - len(text) // 2
        at = max(0, min(cells - len(text), at))
        row[at : at + len(text)] = text
    return "".join(row)


def _word(view: TunerView) -> str:
    if view.midi is None:
        return "play a steady note"
    if abs(view.cents) <= CLOSE_CENTS:
        return f"in tune, held {view.held_s:.0f} s"
    return f"{'too high' if view.cents > 0 else 'too low'}, held {view.held_s:.0f} s"


def _against(tuning: Tuning) -> str:
    a4 = f"A4 = {tuning.a4_hz:g} Hz"
    if tuning.drone is None:
        return f"sounding pitch, equal temperament, {a4}"
    kind = "just intervals" if tuning.just else "equal temperament"
    return f"sounding pitch, {kind} above a drone on {_name(tuning.drone)}, {a4}"


def _tone_rows(view: TunerView) -> list[Text]:
    if view.last is None:
        return []
    held, *more = tone_parts(view.last, view.tuning)
    return [line(f"last long tone: {held}"), *(line(f"  {part}") for part in more)]


def tone_line(tone: LongTone, tuning: Tuning) -> str:
    """One long tone in words."""
    return "; ".join(tone_parts(tone, tuning))


def tone_parts(tone: LongTone, tuning: Tuning) -> list[str]:
    """Where it lay; how it moved; and, with just intervals, where it should have lain."""
    drift = tone.drift_cents_per_s
    moved = "steady" if abs(drift) < STEADY else "rising" if drift > 0 else "falling"
    parts = [
        f"{_name(tone.midi)} {tone.cents:+.1f} cents for {tone.length_s:.1f} s",
        f"{moved}, {drift:+.1f} cents a second, wavering by {tone.spread_cents:.1f}",
    ]
    off = just_cents(tone.midi - tuning.drone) if tuning.just and tuning.drone is not None else 0.0
    return [*parts, f"the just note lies {off:+.1f} from the tempered one"] if off else parts


def _name(midi: int) -> str:
    """With flats, which brass players read more often (common practice, no source)."""
    return name_of_midi(midi, -1)


class TunerScreen(WholeTerminal):
    """Draws the picture over the whole terminal."""

    def __init__(self, console: Console, hint: str = "") -> None:
        super().__init__(console)
        self._hint = hint
        self._shown: list[Text] | None = None

    def __enter__(self) -> Self:
        self._shown = None
        return super().__enter__()

    def draw(self, view: TunerView) -> None:
        lines = tuner_lines(view, *self._console.size, self._hint)
        if lines != self._shown:
            self._shown = lines
            self._update(Lines(tuple(lines)))


class PlainTuner(LineWriter):
    """One line for every long tone, for pipes and screen readers."""

    def __init__(self, stream: TextIO) -> None:
        super().__init__(stream)
        self._last: LongTone | None = None
        self._begun = False

    def draw(self, view: TunerView) -> None:
        if not self._begun:
            self._begun = True
            self._say(f"Listening: {_against(view.tuning)}.")
            if view.notice:
                self._say(view.notice)
        if view.last is not None and view.last is not self._last:
            self._last = view.last
            written = _written(view.last.midi, view).strip()
            self._say(f"{tone_line(view.last, view.tuning)}{f' ({written})' if written else ''}")


def make_tuner_screen(
    *, plain: bool, stream: TextIO, hint: str = "", console: Console | None = None
) -> TunerScreen | PlainTuner:
    """The picture for a terminal that can show it, lines for everything else."""
    from coach.screen.choice import shows_pictures

    console = console or Console(file=stream)
    if plain or not shows_pictures(console):
        return PlainTuner(stream)
    return TunerScreen(console, hint)
