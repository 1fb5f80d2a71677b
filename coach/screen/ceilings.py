"""The ceilings of scales and of ways of tonguing, in lines."""

from __future__ import annotations

from collections.abc import Mapping

from rich.text import Text

from coach.core.profile.ceilings import Ceilings, KindCeiling
from coach.screen.style import BOLD
from coach.screen.words import printable

# So many are named; `coach review --json` has them all.
MOST_KINDS = 4


def ceilings_lines(ceilings: Ceilings) -> list[Text]:
    """Nothing where nothing is known."""
    told = (("Scales", ceilings.scales), ("Tonguing", ceilings.tonguing))
    lines = [Text(f"  {what}: {_rates(kinds)}") for what, kinds in told if kinds]
    if not lines:
        return []
    heading = "  ceilings in notes a second, the slowest first:"
    return [Text(), Text(heading, style=BOLD), *lines]


def _rates(kinds: Mapping[str, KindCeiling]) -> str:
    """ "Db major 7.1 (6.8-7.4), G major 9.1 (8.8-9.4) and 3 more"."""
    shown = [
        f"{printable(name)} {one.rate_hz:.1f} ({one.low_hz:.1f}-{one.high_hz:.1f})"
        for name, one in list(kinds.items())[:MOST_KINDS]
    ]
    more = len(kinds) - len(shown)
    return ", ".join(shown) + (f" and {more} more" if more else "")
