"""Trying again needs a reason: the machine stood still."""

from __future__ import annotations

import time

from tests.studio import again

pytest_plugins = ["pytester"]

SUITE = """
import pathlib, time
import pytest
pytestmark = pytest.mark.studio
def test_that_fails_once(tmp_path_factory):
    seen = pathlib.Path("seen")
    if not seen.exists():
        seen.write_text("")
        raise AssertionError
def test_that_always_fails():
    raise AssertionError
"""


def test_the_watch_sees_a_machine_that_stands_still(monkeypatch):
    sleep = time.sleep
    with again.Watch() as watch:
        monkeypatch.setattr(again.time, "sleep", lambda s: sleep(s + 0.02))
        sleep(0.1)
        monkeypatch.setattr(again.time, "sleep", sleep)
    assert watch.stalls >= 2
    assert watch.longest_s > again.LATE_S


def _outcomes(pytester, monkeypatch, stalls):
    class Seen(again.Watch):
        def __exit__(self, *error):
            super().__exit__(*error)
            self.stalls = stalls

    monkeypatch.setattr(again, "Watch", Seen)
    pytester.makepyfile(SUITE)
    pytester.makeini("[pytest]\nmarkers = studio: x")
    return pytester.inline_run("-p", "no:cacheprovider", plugins=[again]).countoutcomes()


def test_with_a_stall_a_failed_test_is_tried_again(pytester, monkeypatch):
    assert _outcomes(pytester, monkeypatch, 1) == [1, 0, 1]


def test_without_a_stall_a_failure_is_a_failure(pytester, monkeypatch):
    assert _outcomes(pytester, monkeypatch, 0) == [0, 0, 2]
