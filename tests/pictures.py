"""The pictures of the README: what the commands really draw while the simulated player plays.

`python -m tests.pictures` remakes `.pictures/`: screens as SVG, a sheet and the page of the week
(which needs chromium) as PNG.  The same code makes the same pictures.
"""

from __future__ import annotations

import base64
import contextlib
import io
import os
import shutil
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any
from unittest.mock import patch

from PIL import Image
from rich.console import Console, Group, RenderableType
from rich.terminal_theme import TerminalTheme

from coach.book.practice import PracticeBook
from coach.book.rows import Moment
from coach.cli import main
from coach.cli.record import book_path
from coach.core.view import View
from coach.screen.live import LiveScreen
from coach.screen.whole import WholeTerminal
from tests.page.chromium import NAME, Browser
from tests.page.month import PASSAGES, keep_month

FOLDER = Path(__file__).parent.parent / ".pictures"
WIDTH, HEIGHT = 92, 26
PLAY = ("--input", "player", "--fast", "--no-sound")
DAY = date(2027, 3, 1)
SHEET_DOTS, PAGE_DOTS = 900, (1000, 1400)

# An invented evening: the horn comes in after two bars.
SCORE = """X:1
T:An invented evening
M:4/4
L:1/8
Q:1/4=104
K:F
V:1 name="Oboe"
z4 c2 A2 | B2 d2 c4 | A2 c2 f2 e2 | d2 c2 B2 A2 | G2 c2 A4 | f8 |]
V:2 name="Horn in F"
z8 | z8 | F/G/A/B/ c/B/A/G/ F/A/c/A/ F2 | B/c/d/c/ B/A/G/F/ E/G/B/G/ E2 | F2 c2 A2 F2 | F8 |]
V:3 name="Trombone"
A,4 F,4 | B,4 C4 | F,8 | B,4 C4 | C8 | A,8 |]
V:4 name="Tuba"
F,,8 | B,,,4 C,,4 | F,,8 | G,,4 C,,4 | C,,8 | F,,8 |]
"""

# On a dark ground; a terminal's sixteen colours, as far as the screens use them at all.
_SIXTEEN = [(20, 24, 28), (213, 94, 0), (0, 158, 115), (230, 159, 0), (86, 180, 233)]
THEME = TerminalTheme(
    (20, 24, 28),
    (222, 226, 230),
    [*_SIXTEEN, (204, 121, 167), (86, 180, 233), (222, 226, 230)],
)
# The terminal's own font, so that nothing is fetched.
SVG = """<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}">
<style>
.{unique_id}-matrix {{ font-family: "DejaVu Sans Mono", Menlo, Consolas, monospace;
  font-size: {char_height}px; line-height: {line_height}px; }}
{styles}
</style>
<defs>
<clipPath id="{unique_id}-clip-terminal">
<rect x="0" y="0" width="{terminal_width}" height="{terminal_height}"/></clipPath>
{lines}
</defs>
<rect width="100%" height="100%" rx="8" fill="#14181c"/>
<g transform="translate({terminal_x}, {terminal_y})" clip-path="url(#{unique_id}-clip-terminal)">
{backgrounds}
<g class="{unique_id}-matrix">
{matrix}
</g>
</g>
</svg>
"""


@dataclass(frozen=True)
class Seen:
    """One picture of the session, with what it was drawn from."""

    view: View
    picture: RenderableType


@contextlib.contextmanager
def watched() -> Iterator[list[Seen]]:
    """What the screen draws inside, on a terminal of that size which nobody sees."""
    seen: list[Seen] = []
    drawn: list[RenderableType] = []
    draw = LiveScreen.draw

    def watch(screen: LiveScreen, view: View) -> None:
        draw(screen, view)
        seen.append(Seen(view, drawn[-1]))

    terminal = {"COLUMNS": str(WIDTH), "LINES": str(HEIGHT), "TERM": "xterm", "FORCE_COLOR": "1"}
    with (
        patch.dict(os.environ, terminal),
        patch.object(WholeTerminal, "__enter__", lambda screen: screen),
        patch.object(WholeTerminal, "__exit__", lambda *_: None),
        patch.object(WholeTerminal, "_update", lambda _, picture: drawn.append(picture)),
        patch.object(LiveScreen, "draw", watch),
        contextlib.redirect_stdout(io.StringIO()),
        open(os.devnull) as nobody,
        patch("sys.stdin", nobody),
    ):
        yield seen


def first(seen: list[Seen], when: Callable[[View], Any]) -> RenderableType:
    return next(one.picture for one in seen if when(one.view))


def svg(picture: RenderableType) -> str:
    console = Console(
        record=True,
        file=io.StringIO(),
        width=WIDTH,
        height=HEIGHT,
        force_terminal=True,
        color_system="truecolor",
        legacy_windows=False,
    )
    # The empty row below keeps the tails of the last letters.
    console.print(Group(picture, ""))
    return console.export_svg(title="", theme=THEME, code_format=SVG, unique_id="coach")


def screens() -> dict[str, str]:
    """Name to SVG: in the middle of a take, after it, inside the ensemble."""
    with watched() as demo:
        assert main(["demo", "--fast", "--seed", "12", "--takes", "4"]) == 0
    score = book_path().with_name("evening.abc")
    score.write_text(SCORE, encoding="utf-8")
    words = [str(score), "--part", "2", "--bars", "3-6", "--takes", "1", "--simple-sound", *PLAY]
    with watched() as tutti:
        assert main(["tutti", *words, "--seed", "2"]) == 0
    return {
        "take": svg(first(demo, lambda v: v.phase == "playing" and v.take == 3 and at(v) > 11)),
        "rest": svg(first(demo, lambda v: v.phase == "rest" and len(v.path) == 3 and v.rest_s > 1)),
        "tutti": svg(first(tutti, lambda v: v.phase == "playing" and v.pulse == 5)),
    }


def at(view: View) -> int:
    """Which note is due, from 0."""
    return view.now or 0


def sheet() -> bytes:
    """The upper part of a sheet, as PNG."""
    path = book_path().with_name("sheet.png")
    with contextlib.redirect_stdout(io.StringIO()):
        assert main(["sheet", "written-out", "--png", "--out", str(path)]) == 0
    page = Image.open(path).convert("L")
    width = SHEET_DOTS
    shown = page.resize((width, round(page.height * width / page.width)), Image.Resampling.LANCZOS)
    return png(shown.crop((0, 0, width, round(0.508 * shown.height))), 16)


def week() -> bytes:
    """The top of the page of an invented player's month, as PNG."""
    path = book_path().with_name("week.html")
    moment = Moment(f"{DAY.isoformat()}T12:00:00.000Z", DAY.toordinal())
    keep_month(book_path(), DAY.toordinal(), PASSAGES[:1])
    with (
        patch.object(PracticeBook, "moment", lambda _: moment),
        contextlib.redirect_stdout(io.StringIO()),
    ):
        assert main(["review", "--html", str(path)]) == 0
    width, height = PAGE_DOTS
    with tempfile.TemporaryDirectory() as folder, contextlib.closing(Browser(Path(folder))) as seen:
        seen.look(width)
        seen.open(path)
        clip = {"x": 0, "y": 0, "width": width, "height": height, "scale": 1}
        told = seen.ask("Page.captureScreenshot", clip=clip, captureBeyondViewport=True)
    return png(Image.open(io.BytesIO(base64.b64decode(told["data"]))).convert("RGB"), 256)


def png(picture: Image.Image, colours: int) -> bytes:
    """As small as such a picture can be."""
    out = io.BytesIO()
    picture.quantize(colours, dither=Image.Dither.NONE).save(out, "PNG", optimize=True)
    return out.getvalue()


def remake() -> None:
    if shutil.which(NAME) is None:
        raise SystemExit(f"the page of the week is drawn by {NAME}, which is not here")
    FOLDER.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as home, patch.dict(os.environ, {"COACH_HOME": home}):
        for name, text in screens().items():
            (FOLDER / f"{name}.svg").write_text(text, encoding="utf-8")
        (FOLDER / "sheet.png").write_bytes(sheet())
        book_path().unlink()
        (FOLDER / "week.png").write_bytes(week())


if __name__ == "__main__":
    remake()
