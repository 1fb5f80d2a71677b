"""To which player of a book a file belongs.  Somebody else's record never comes to the one who
plays unless that was asked for by name."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from coach.errors import CoachError


class KnownPlayer(Protocol):
    """A player of the book."""

    @property
    def name(self) -> str: ...
    @property
    def uid(self) -> str: ...


@dataclass(frozen=True, slots=True)
class Whose:
    """The player of that name: there already, or to be made (`new`) with this uid; `takes_over`:
    the player that is there takes this uid over."""

    name: str
    uid: str
    new: bool = False
    takes_over: bool = False


def whose(
    name: str,
    uid: str,
    players: Sequence[KnownPlayer],
    *,
    nameless: KnownPlayer | None = None,
    into: str | None = None,
    called: str | None = None,
) -> Whose:
    """Where the record of the player `name` with `uid` goes.

    `nameless` is the player of a book in which nothing was ever kept and nobody gave a name: the
    record of somebody nameless goes on there.  `into` names a player of the book to whom it shall
    go; `called` is another name for a new player.  CoachError where that can't be, or where the
    name is somebody else's here.
    """
    names = {player.name: player for player in players}
    if into is not None:
        return Whose(_there(into, names).name, names[into].uid)
    same = next((player for player in players if player.uid == uid), None)
    if same is not None:
        if called not in (None, same.name):
            hint = f"coach player {same.name} --rename gives another name"
            raise CoachError(f'this player is "{same.name}" here already', "--as", hint)
        return Whose(same.name, uid)
    if called is None and nameless is not None and nameless.name == name:
        return Whose(name, uid, takes_over=True)
    if (called or name) in names:
        hint = "--as NAME takes this one in under another name"
        raise CoachError(f'there is another player "{called or name}" here', "", hint)
    return Whose(called or name, uid, new=True)


def _there(name: str, names: dict[str, KnownPlayer]) -> KnownPlayer:
    if name not in names:
        raise CoachError(f'there is no player "{name}" here', "", "coach player shows who there is")
    return names[name]
