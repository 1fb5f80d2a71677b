"""A device that stopped, and may come back.

What brings it back may hang, since a system's sound library can wait for a dead device for ever: so
it is done in a thread, and whoever waits looks at it now and then.
"""

from __future__ import annotations

import threading
from collections.abc import Callable

from coach.errors import DeviceAwayError, DeviceError
from coach.ports.clock import now_s, wait

LIMIT_S = 120.0
LOOK_S = 0.05
EVERY_S = 1.0


class Away:
    """`again` opens the device once more, and raises whatever it likes while it is not there.

    It is tried every second, from `first_s` on, and given up after two minutes.
    """

    def __init__(
        self, error: DeviceAwayError, again: Callable[[], None], first_s: float = 0.0
    ) -> None:
        self.error = error
        self._again = again
        self._since_s = now_s()
        self._next_s = self._since_s + first_s
        self._try: _Try | None = None

    @property
    def busy(self) -> bool:
        """A try is under way, perhaps for ever: nobody else may touch the device."""
        return self._try is not None and self._try.is_alive()

    def back(self) -> bool:
        """Wait a little; whether it is there again.  DeviceError once it is given up."""
        if self._try is None and now_s() >= self._next_s:
            self._try = _Try(self._again)
        if self._try is None:
            wait(LOOK_S)
        elif self._try.ended(LOOK_S):
            if self._try.trouble is None:
                return True
            self._try, self._next_s = None, now_s() + EVERY_S
        if now_s() - self._since_s > LIMIT_S:
            raise self._given_up()
        return False

    def _given_up(self) -> DeviceError:
        what = f"{self.error.what} and did not come back in two minutes"
        return DeviceError(what, self.error.where, self.error.hint)


class _Try(threading.Thread):
    """One try; `trouble` says why it failed."""

    def __init__(self, again: Callable[[], None]) -> None:
        super().__init__(daemon=True)
        self._again = again
        self.trouble: Exception | None = None
        self.start()

    def run(self) -> None:
        try:
            self._again()
        except Exception as trouble:
            self.trouble = trouble

    def ended(self, within_s: float) -> bool:
        self.join(within_s)
        return not self.is_alive()
