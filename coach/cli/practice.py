"""What all commands that practise share: screen, keys, book and events around a session."""

from __future__ import annotations

import argparse
import contextlib
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

from coach.cli.saying import print
from coach.core.exercise import Drill
from coach.core.instrument import Instrument
from coach.core.report import Report
from coach.core.rules import Rules
from coach.core.sound import Sound
from coach.core.take import Take
from coach.core.timeline import Plan
from coach.errors import CoachError
from coach.roles import Book, Controls, Ear, Guide, Port, Screen
from coach.session import Session, Setup


@dataclass(frozen=True, slots=True)
class OpenInput:
    """An open input, the ear that fits it, and the pedal beside it, if any; `taken` gives the sound
    of the last take, where that is to be kept; `mix` takes the commands for the ensemble's mix and
    `make_screen` makes its screen, where there is one; `tells` makes an event of a finished take
    that is logged beside the others."""

    port: Port
    make_ear: Callable[[Plan], Ear]
    pedal: Any = None
    taken: Callable[[], Sound | None] | None = None
    mix: Callable[[str], None] | None = None
    make_screen: Callable[..., Any] | None = None
    tells: Callable[[Take, Report], dict[str, Any]] | None = None


class _Telling:
    """A book that logs an event for each take as well, whether or not it could be kept."""

    def __init__(
        self,
        book: Book,
        tells: Callable[[Take, Report], dict[str, Any]],
        log: Callable[[dict[str, Any]], None],
    ) -> None:
        self._book, self._tells, self._log = book, tells, log

    def append(self, take: Take, report: Report, drill: Drill) -> None:
        self._log(self._tells(take, report))
        self._book.append(take, report, drill)


class NoBook:
    """Keeps nothing: for the demo, whose takes are not the player's."""

    def append(self, take: Any, report: Any, drill: Any) -> None:
        pass


@dataclass(frozen=True, slots=True)
class Desk:
    """What all sessions of one command share: input, screen, keys, book and log."""

    port: Port
    make_ear: Callable[[Plan], Ear]
    screen: Screen
    controls: Controls
    book: Book
    log: Callable[[dict[str, Any]], None]

    def session(self, setup: Setup, guide: Guide | None = None) -> Session:
        return Session(
            setup,
            self.port,
            self.make_ear,
            self.screen,
            self.controls,
            self.book,
            self.log,
            guide,
        )


@contextlib.contextmanager
def desk(args: argparse.Namespace, rules: Rules, opened: OpenInput, book: Book) -> Iterator[Desk]:
    """Screen, keys and log open."""
    from coach.files.configs import load_keys
    from coach.files.eventlog import EventLog
    from coach.hear.onethread import one_thread
    from coach.ports.keys import Aside, Keys, Together
    from coach.ports.signals import Halts
    from coach.screen import make_screen

    with contextlib.ExitStack() as stack:
        log = _no_log
        if args.events:
            warnings: list[str] = []
            stack.callback(_pass_on, warnings)
            log = stack.enter_context(EventLog(args.events, warnings.append)).write
        told = load_keys()
        mapping = {**told["keys"], **(told["mixer"] if opened.mix else {})}
        keys = stack.enter_context(Keys(mapping))
        maker = opened.make_screen or make_screen
        screen = stack.enter_context(maker(plain=args.plain, rules=rules, hint=keys.hint))
        halts = stack.enter_context(Halts(keys, screen))
        pedals = [opened.pedal] if opened.pedal else []
        controls = Aside(Together(halts, keys, *pedals), opened.mix)
        stack.enter_context(one_thread())
        if opened.tells is not None:
            book = _Telling(book, opened.tells, log)
        yield Desk(opened.port, opened.make_ear, screen, controls, book, log)


def practise(
    args: argparse.Namespace,
    drill: Drill,
    instrument: Instrument,
    opened: OpenInput,
    book: Book,
    guide: Guide | None = None,
) -> None:
    """Run one session to its end and show the summary."""
    from coach.files.configs import load_rules

    setup = Setup(drill, load_rules(drill.rules), instrument.transposition, args.takes)
    session, reason = None, ""
    try:
        with desk(args, setup.rules, opened, book) as shared:
            session = shared.session(setup, guide)
            reason = session.run()
    finally:
        if session is not None:
            _say_goodbye(session, reason, args.plain)


def _no_log(event: dict[str, Any]) -> None:
    pass


def _pass_on(warnings: list[str]) -> None:
    """What went wrong beside the session, told once the screen is gone."""
    for warning in warnings:
        print(f"coach: {warning}", file=sys.stderr)


def _say_goodbye(session: Session, reason: str, plain: bool) -> None:
    from coach.screen import show_summary

    with contextlib.suppress(OSError):  # the terminal may be closed by now
        show_summary(session.view, plain=plain, reason=reason)


def check_session(args: argparse.Namespace) -> None:
    """CoachError for takes and rules that can't be, before any device is opened."""
    from coach.files.configs import load_rules

    if args.rules is not None:
        load_rules(args.rules)
    if args.takes is not None and args.takes < 1:
        raise CoachError(f"--takes {args.takes} is less than one", "", "use 1 or more")
