"""What ends the coach does so in order, and once; what is ignored stays so."""

from __future__ import annotations

import signal
from collections.abc import Iterator

import pytest

from coach.ports.signals import Halts, ends_in_order

ENDING = [
    getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name)
]


@pytest.fixture(autouse=True)
def _usual() -> Iterator[None]:
    usual = [signal.default_int_handler, *[signal.SIG_DFL] * (len(ENDING) - 1)]
    before = [signal.signal(*pair) for pair in zip(ENDING, usual, strict=True)]
    yield
    for pair in zip(ENDING, before, strict=True):
        signal.signal(*pair)


@pytest.mark.parametrize("number", ENDING)
def test_all_that_ends_the_coach_does_so_as_ctrl_c(number: int) -> None:
    def stopped() -> None:
        with ends_in_order():
            signal.raise_signal(number)

    before = [signal.getsignal(one) for one in ENDING]
    with pytest.raises(KeyboardInterrupt):
        stopped()
    assert [signal.getsignal(one) for one in ENDING] == before


def test_a_second_one_does_not_stop_the_tidying_up_and_a_third_one_does() -> None:
    tidied = []

    def stopped() -> None:
        with ends_in_order():
            try:
                signal.raise_signal(ENDING[-1])
            finally:
                signal.raise_signal(ENDING[0])
                tidied.append(1)
                signal.raise_signal(ENDING[0])
                tidied.append(2)

    with pytest.raises(KeyboardInterrupt):
        stopped()
    assert tidied == [1]


def test_what_is_ignored_stays_ignored() -> None:
    """As `nohup` leaves it."""
    signal.signal(ENDING[-1], signal.SIG_IGN)
    with ends_in_order():
        signal.raise_signal(ENDING[-1])
        assert signal.getsignal(ENDING[-1]) == signal.SIG_IGN


class Used:
    def __init__(self, told: list[str]) -> None:
        self.told = told

    def __enter__(self) -> None:
        self.told.append("in")

    def __exit__(self, *_: object) -> None:
        self.told.append("out")


@pytest.mark.skipif(not hasattr(signal, "SIGTSTP"), reason="nothing is stopped by Ctrl-Z")
def test_ctrl_z_waits_until_it_is_asked_for(monkeypatch: pytest.MonkeyPatch) -> None:
    """How it stands still is seen in a terminal (tests/cli/test_terminal.py)."""
    told: list[str] = []
    raised = signal.raise_signal
    with Halts(Used(told)) as halts:
        assert halts.poll() == []
        raised(signal.SIGTSTP)
        assert told == []
        monkeypatch.setattr(signal, "raise_signal", lambda number: told.append("stands"))
        assert (halts.poll(), halts.poll()) == (["halt"], [])
    assert told == ["out", "stands", "in"]
    assert signal.getsignal(signal.SIGTSTP) == signal.SIG_DFL
