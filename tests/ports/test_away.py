"""A device that stopped: when it is tried, that a try may hang, when it is given up."""

from __future__ import annotations

import threading
from itertools import pairwise

import pytest

from coach.errors import DeviceAwayError, DeviceError
from coach.ports import away as module
from coach.ports.away import EVERY_S, LIMIT_S, Away

ERROR = DeviceAwayError("the sound device stopped", "Desk", "see that it is plugged in")


class Device:
    """Not there for the first tries."""

    def __init__(self, tries: int) -> None:
        self.tries, self.tried_s = tries, []
        self.now_s = 100.0

    def again(self) -> None:
        self.tried_s.append(self.now_s)
        if len(self.tried_s) <= self.tries:
            raise RuntimeError("whatever the library says")

    def wait(self, seconds: float) -> None:
        self.now_s += seconds


@pytest.fixture
def away(monkeypatch):
    def made(device, **more):
        monkeypatch.setattr(module, "now_s", lambda: device.now_s)
        monkeypatch.setattr(module, "wait", device.wait)
        return Away(ERROR, device.again, **more)

    return made


def looks(one: Away, most: int = 10_000) -> int:
    for k in range(most):
        if one.back():
            return k
    return most


def test_it_is_tried_every_second_until_it_is_back(away):
    device = Device(tries=3)
    one = away(device)
    looks(one)
    assert not one.busy
    gaps_s = [b - a for a, b in pairwise(device.tried_s)]
    assert gaps_s == pytest.approx([EVERY_S] * 3, abs=0.06)


def test_the_first_try_can_wait(away):
    device = Device(tries=0)
    looks(away(device, first_s=6.0))
    assert device.tried_s == pytest.approx([106.0], abs=0.06)


def test_after_two_minutes_it_is_given_up_in_one_sentence(away):
    device = Device(tries=10_000)
    one = away(device)
    with pytest.raises(DeviceError) as error:
        looks(one)
    assert not isinstance(error.value, DeviceAwayError)
    assert str(error.value) == (
        "Desk: the sound device stopped and did not come back in two minutes; see that it is"
        " plugged in."
    )
    assert device.now_s == pytest.approx(100 + LIMIT_S, abs=1.1)


def test_a_try_that_hangs_holds_up_nobody(away):
    device, over = Device(tries=0), threading.Event()
    device.again = over.wait
    one = away(device)
    assert [one.back() for _ in range(3)] == [False] * 3
    assert one.busy
    device.now_s += LIMIT_S + 1
    with pytest.raises(DeviceError, match="did not come back"):
        one.back()
    over.set()
