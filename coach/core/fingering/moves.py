"""What the fingers do from one fingering to the next, whatever it costs."""

from __future__ import annotations

from dataclasses import dataclass

VALVES = "1234"


@dataclass(frozen=True, slots=True)
class FingerMove:
    """From one fingering to the next: valves that go up and down, and the thumb ("T up", "T down",
    "" if it stays)."""

    ups: str = ""
    downs: str = ""
    thumb: str = ""

    @property
    def exchanges(self) -> bool:
        """Whether a valve is lifted while another is pressed."""
        return bool(self.ups and self.downs)


def move_between(before: str | None, after: str | None) -> FingerMove | None:
    """The move from one fingering ("T12") to another; None unless both are known."""
    if before is None or after is None:
        return None
    ups = "".join(v for v in VALVES if v in before and v not in after)
    downs = "".join(v for v in VALVES if v in after and v not in before)
    levers = before.rstrip("0+" + VALVES), after.rstrip("0+" + VALVES)
    if levers[0] == levers[1]:
        return FingerMove(ups, downs)
    return FingerMove(ups, downs, f"{levers[1]} down" if levers[1] else f"{levers[0]} up")
