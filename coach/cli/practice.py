"""What `coach drill` and `coach demo` share: screen, keys, book and events around one session."""

from __future__ import annotations

import argparse
import contextlib
import signal
import sys
from collections.abc import Callable, Iterator
from typing import Any

from coach.core.exercise import Drill
from coach.core.instrument import Instrument
from coach.core.timeline import Plan
from coach.errors import CoachError
from coach.session import Book, Ear, Port, Session, Setup


class NoBook:
    """Keeps nothing: for the demo, whose takes are not the player's."""

    def append(self, take: Any, report: Any, drill: Any) -> None:
        pass


def practise(
    args: argparse.Namespace,
    drill: Drill,
    instrument: Instrument,
    port: Port,
    make_ear: Callable[[Plan], Ear],
    book: Book,
    pedal: Any = None,
) -> None:
    """Run one session to its end and show the summary."""
    from coach.files.configs import load_keys, load_rules
    from coach.files.eventlog import EventLog
    from coach.hear.onethread import one_thread
    from coach.ports.keys import Keys, Together
    from coach.screen import make_screen

    setup = Setup(drill, load_rules(drill.rules), instrument.transposition, args.takes)
    with contextlib.ExitStack() as stack:
        stack.enter_context(_sigterm_stops())
        log = _no_log
        if args.events:
            warnings: list[str] = []
            stack.callback(_pass_on, warnings)
            log = stack.enter_context(EventLog(args.events, warnings.append)).write
        keys = stack.enter_context(Keys(load_keys()["keys"]))
        controls = Together(keys, pedal) if pedal else keys
        screen = stack.enter_context(
            make_screen(plain=args.plain, rules=setup.rules, hint=keys.hint)
        )
        session = Session(setup, port, make_ear, screen, controls, book, log)
        reason = ""
        stack.enter_context(one_thread())
        try:
            reason = session.run()
        finally:
            stack.callback(_say_goodbye, session, reason, args.plain)


def _no_log(event: dict[str, Any]) -> None:
    pass


def _pass_on(warnings: list[str]) -> None:
    """What went wrong beside the session, told once the screen is gone."""
    for warning in warnings:
        print(f"coach: {warning}", file=sys.stderr)


def _say_goodbye(session: Session, reason: str, plain: bool) -> None:
    from coach.screen import show_summary

    show_summary(session.view, plain=plain, reason=reason)


@contextlib.contextmanager
def _sigterm_stops() -> Iterator[None]:
    """SIGTERM ends the session as Ctrl-C does: in order, the terminal restored."""

    def stop(number: int, frame: Any) -> None:
        raise KeyboardInterrupt

    before = signal.signal(signal.SIGTERM, stop)
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, before)


def checked_takes(args: argparse.Namespace) -> None:
    if args.takes is not None and args.takes < 1:
        raise CoachError(f"--takes {args.takes} is less than one", "", "use 1 or more")
