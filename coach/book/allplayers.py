"""What is asked of the takes of all players: they share the room that there is for sound."""

from __future__ import annotations

from collections.abc import Mapping

from coach.book.practice import PracticeBook
from coach.core.soundbudget import KeptSound


def kept_sounds(book: PracticeBook, sizes: Mapping[str, int]) -> list[KeptSound]:
    """Those of the sounds (uid and size in bytes) whose takes are in the book, whoever played them;
    passages of different players are told apart."""
    rows = book.rows("SELECT uid, player, drill, id, tempo_bpm, accuracy, passed FROM takes")
    return [
        KeptSound(uid, sizes[uid], f"{player} {drill}", order, bpm, accuracy, bool(passed))
        for uid, player, drill, order, bpm, accuracy, passed in rows
        if uid in sizes
    ]
