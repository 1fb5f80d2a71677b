"""Pictures over the whole terminal.  The loop draws; no thread does."""

from __future__ import annotations

import contextlib
from types import TracebackType
from typing import Self

from rich.console import Console, RenderableType
from rich.live import Live


class WholeTerminal:
    """A screen that takes the terminal when it is entered, be it once more, and gives it back."""

    def __init__(self, console: Console) -> None:
        self._console = console
        self._live = Live(
            console=console,
            screen=True,
            auto_refresh=False,
            redirect_stdout=False,
            redirect_stderr=False,
            vertical_overflow="crop",
        )

    def __enter__(self) -> Self:
        self._live.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        with contextlib.suppress(OSError):  # it may be closed by now
            self._live.stop()

    def _update(self, picture: RenderableType) -> None:
        self._live.update(picture, refresh=True)
