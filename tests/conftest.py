"""What all tests share: the brass samples beside the checkout, and no silent skips in CI."""

from __future__ import annotations

import gc
import os
import signal
import tempfile
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace

import pytest
from hypothesis import settings

# Before numpy is there: its threads for small matrices stand in each other's way, and the tests of
# the ear took three times as long (see coach/hear/onethread.py).  Whoever sets it otherwise, wins.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

# Tests that run in the background, or under nohup, would pass it on to the coaches that they start
# that these are to be ignored.
for _name in ("SIGINT", "SIGHUP"):
    _number = getattr(signal, _name, None)
    if _number is not None and signal.getsignal(_number) is signal.SIG_IGN:
        signal.signal(_number, signal.SIG_DFL if _name == "SIGHUP" else signal.default_int_handler)

# No test asserts a time.
settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")

SHARED = Path(__file__).resolve().parent.parent.parent / "shared"


@pytest.fixture(autouse=True)
def _own_home(tmp_path_factory, monkeypatch):
    """No test touches the player's own practice book.

    Not by `tmp_path_factory.mktemp`, which reads through all the folders that there are.
    """
    folder = tempfile.mkdtemp(prefix="home-", dir=tmp_path_factory.getbasetemp())
    monkeypatch.setenv("COACH_HOME", folder)


@pytest.fixture(autouse=True, scope="session")
def _no_sweeping() -> Iterator[None]:
    """A session sweeps the heap before each take.  Here lie dozens of libraries and thousands of
    tests, and it would take 0.3 s each time instead of 0.03."""
    from coach import taking

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(taking, "gc", SimpleNamespace(**vars(gc) | {"collect": lambda: 0}))
        yield


@pytest.fixture
def shared_dir() -> Path:
    """The folder of samples and recordings; the test is skipped where there is none."""
    if not SHARED.is_dir():
        pytest.skip("no samples beside the checkout")
    return SHARED


@pytest.hookimpl(hookwrapper=True)
def pytest_runtest_makereport(item, call):
    """In CI a test that needs the virtual sound card, a browser, or samples that are there, must
    run."""
    outcome = yield
    report = outcome.get_result()
    needed = any(map(item.get_closest_marker, ("studio", "browser"))) or (
        item.get_closest_marker("shared") and SHARED.is_dir()
    )
    if report.skipped and needed and os.environ.get("CI"):
        report.outcome = "failed"
        report.longrepr = f"{item.nodeid} must not be skipped in CI: {report.longrepr}"
