"""How fast the simulated player sounds: `python -m tests.benchmarks.player_speed`."""

from __future__ import annotations

import time
from dataclasses import replace
from fractions import Fraction
from random import Random

from coach.ports.player.skill import Skill, perform
from coach.ports.player.tone import render
from tests.making import RATE, plan_of, scale


def main() -> None:
    for start, slurred in ((34, False), (53, False), (67, False), (53, True)):
        plan = plan_of(scale(start, 8) * 16, length_beats=Fraction(1, 4))
        dues = tuple(replace(d, slurred=slurred and d.index > 0) for d in plan.dues)
        played = perform(replace(plan, dues=dues), Skill(), Random(1))
        began_s = time.perf_counter()
        samples = render(played, RATE, plan.downbeat_frame, plan.end_frame)
        took_s = time.perf_counter() - began_s
        kind = "slurred" if slurred else "tongued"
        print(f"{kind}, from MIDI {start}: {len(samples) / RATE / took_s:.0f} times real time")


if __name__ == "__main__":
    main()
