"""A studio test that failed while the machine stood still is tried again.

The sound card is virtual, but its time is real: where other work stops the whole machine for longer
than a block, the card itself loses sound, which no program can make good.  A watch that does
nothing but sleep sees such moments; a test that fails without one has failed.
"""

from __future__ import annotations

import threading
import time
from typing import Any

import pytest
from _pytest.runner import runtestprotocol

TRIES = 3
STEP_S, LATE_S = 0.002, 0.004  # a block of 256 frames lasts 5.3 ms


class Watch:
    """Sleeps and looks at the clock, in a thread of its own, while it is held open."""

    def __init__(self) -> None:
        self.stalls, self.longest_s = 0, 0.0
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._look, daemon=True)

    def __enter__(self) -> Watch:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._over.set()
        self._thread.join()

    def _look(self) -> None:
        while not self._over.is_set():
            began = time.perf_counter()
            time.sleep(STEP_S)
            late_s = time.perf_counter() - began - STEP_S
            self.stalls += late_s > LATE_S
            self.longest_s = max(self.longest_s, late_s)


@pytest.hookimpl(tryfirst=True)
def pytest_runtest_protocol(item: Any, nextitem: Any) -> bool | None:
    """Run a studio test, and again if it failed while the machine stood still."""
    if item.get_closest_marker("studio") is None:
        return None
    item.ihook.pytest_runtest_logstart(nodeid=item.nodeid, location=item.location)
    for number in range(1, TRIES + 1):
        with Watch() as watch:
            reports = runtestprotocol(item, nextitem=nextitem, log=False)
        failed = any(report.failed for report in reports)
        if not failed or not watch.stalls or number == TRIES:
            break
        item._initrequest()  # fresh fixtures
    for report in reports:
        item.ihook.pytest_runtest_logreport(report=report)
    item.ihook.pytest_runtest_logfinish(nodeid=item.nodeid, location=item.location)
    return True
