"""What `coach assess` prints when it is not told to write a file."""

from __future__ import annotations

from typing import Any


def show_report(report: Any, expected: Any, rules: Any) -> None:
    """The table note by note, in written pitch of the instrument."""
    from rich.console import Console

    from coach.files.configs import load_instrument
    from coach.screen import report_table

    console = Console()
    transposition = load_instrument(expected.instrument).transposition
    table = report_table(report, transposition=transposition, rules=rules, width=console.width)
    console.print(table)
