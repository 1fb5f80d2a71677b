"""The sound of each take beside the book, within the room that there is for it."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING

from coach.core.sound import Sound
from coach.errors import CoachError

if TYPE_CHECKING:
    from coach.book.practice import PracticeBook
    from coach.files.takesound import TakeSounds

# A little more is dropped than must be, so that not every take has to look through the folder.
FILLED_SHARE = 0.95


def own_sounds() -> TakeSounds:
    """The sounds of the player's own takes."""
    from coach.files.configs import own_folder
    from coach.files.takesound import TakeSounds

    return TakeSounds(own_folder() / "sound")


def drop_sounds(uids: Iterable[str]) -> None:
    """Delete the sounds of these takes (of a player who is erased); FileError if one can't be."""
    own_sounds().drop(uids)


class SoundKeeper:
    """Keeps what `taken` gives after each take; the first trouble is told, later ones are not."""

    def __init__(
        self, book: PracticeBook, taken: Callable[[], Sound | None], budget_bytes: int
    ) -> None:
        self._book, self._taken, self._budget = book, taken, budget_bytes
        self._sounds = own_sounds()
        self._total: int | None = None
        self._told = False

    def keep(self, uid: str) -> None:
        """Keep the sound of the take that has just got this uid; CoachError, once, if that can't be
        done."""
        sound = self._taken()
        if sound is None:
            return
        try:
            size = self._sounds.keep(uid, sound)
            if self._total is None or self._total + size > self._budget:
                self._make_room()
            else:
                self._total += size
        except CoachError as error:
            self._tell(error)

    def _tell(self, error: CoachError) -> None:
        if self._told:
            return
        self._told = True
        what = f"the sound of the takes can't be kept: {error.what}"
        raise CoachError(what, error.where, "the takes themselves are in the book")

    def _make_room(self) -> None:
        """Drop what has no take any more, and what there is no room for."""
        from coach.book.allplayers import kept_sounds
        from coach.core.soundbudget import to_drop

        sizes = self._sounds.sizes()
        kept = kept_sounds(self._book, sizes)
        over = sum(one.size_bytes for one in kept) > self._budget
        dropped = to_drop(kept, round(self._budget * FILLED_SHARE)) if over else []
        # A book that had to be mended may be put right by hand: its sounds are left alone.
        if not self._book.remarks:
            dropped += sizes.keys() - {one.uid for one in kept}
            self._sounds.drop_unfinished()
        self._sounds.drop(dropped)
        self._total = sum(size for uid, size in sizes.items() if uid not in set(dropped))
