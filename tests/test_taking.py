"""What holds while a take is played."""

from __future__ import annotations

import gc

import pytest

from coach import taking
from tests.making import plan_of
from tests.test_session import FakePort


def test_no_garbage_is_collected_while_the_clicks_sound(monkeypatch):
    """It is swept before: in CPython a full sweep stops all threads for tens of ms."""
    done = []
    monkeypatch.setattr(taking.gc, "collect", lambda: done.append("swept"))
    port = FakePort()
    port.begin = lambda plan: done.append("begun")
    with taking.playing(port, plan_of([60])):
        assert done == ["swept", "begun"]
        assert not gc.isenabled()
        assert gc.get_freeze_count() > 0
    assert gc.isenabled()
    assert gc.get_freeze_count() == 0


def test_it_is_collected_again_when_the_take_was_broken_off():
    with pytest.raises(KeyboardInterrupt), taking.playing(FakePort(), plan_of([60])):
        raise KeyboardInterrupt
    assert gc.isenabled()
    assert gc.get_freeze_count() == 0
