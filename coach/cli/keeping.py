"""Takes into the practice book, with what each tells of the player counted beside it."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING

from coach.cli.lately import charted
from coach.cli.record import own_book
from coach.core.exercise import Drill
from coach.core.instrument import Instrument
from coach.core.report import Report
from coach.core.sound import Sound
from coach.core.take import Take

if TYPE_CHECKING:
    from coach.book.practice import PracticeBook
    from coach.cli.soundkeeping import SoundKeeper


@contextlib.contextmanager
def practice_book(command: str) -> Iterator[PracticeBook]:
    """The player's own book, open for a session of `command`; what it has to say is told."""
    with own_book(make=True, at_once=True) as book:
        book.begin_session(command)
        yield book


class Keeper:
    """A `roles.Book` in front of the practice book; players who were shown no fingerings are taken
    to use the usual ones.  `taken` gives the sound of the last take, if it is to be kept."""

    def __init__(
        self,
        book: PracticeBook,
        instrument: Instrument,
        taken: Callable[[], Sound | None] | None = None,
    ) -> None:
        self._book = book
        self._fingerings = charted(instrument)
        self._sound = _sound_keeper(book, taken) if taken else None

    def append(self, take: Take, report: Report, drill: Drill) -> None:
        from coach.core.profile.tallies import tallies_of

        exercise = take.plan.exercise
        tallies = tallies_of(report, exercise, self._fingerings(exercise), self._book.today())
        uid = self._book.append(take, report, drill, tallies)
        if self._sound is not None:
            self._sound.keep(uid)


def _sound_keeper(book: PracticeBook, taken: Callable[[], Sound | None]) -> SoundKeeper:
    from coach.cli.soundkeeping import SoundKeeper
    from coach.files.bookconfig import load_sound_keeping

    return SoundKeeper(book, taken, load_sound_keeping().budget_bytes)
