"""The attack net's scores of the notes now looked for, each hop scored once."""

from __future__ import annotations

import numpy as np

from coach.hear.follow.bank import Bank
from coach.hear.follow.inputs import NoteContext, note_inputs
from coach.hear.follow.net import AHEAD_HOPS, BACK_HOPS, AttackNet, Scores


class Lines:
    """Scores by note and hop, computed when they are first asked for."""

    def __init__(self, bank: Bank, net: AttackNet) -> None:
        self._bank = bank
        self._net = net
        self._known: dict[int, tuple[int, Scores]] = {}

    @property
    def end_hop(self) -> int:
        """Scores can be had for all hops before this one."""
        return self._bank.end_hop - AHEAD_HOPS

    def scores(self, index: int, note: NoteContext, low: int, end: int) -> Scores:
        """Scores of hops low .. end - 1 for the note `index`."""
        start, known = self._known.get(index) or (low, self._fresh(note, low, end))
        if low < start:
            start, known = low, _joined(self._fresh(note, low, start), known)
        have = start + len(known.attack)
        if have < end:
            known = _joined(known, self._fresh(note, have, end))
        self._known[index] = start, known
        inside = slice(low - start, end - start)
        return Scores(known.attack[inside], known.takeover[inside], known.hidden[inside])

    def forget(self, before: int) -> None:
        """The scores of notes before this one are not needed any more."""
        self._known = {k: line for k, line in self._known.items() if k >= before}

    def _fresh(self, note: NoteContext, low: int, end: int) -> Scores:
        inputs = note_inputs(self._bank, note, low - BACK_HOPS, end + AHEAD_HOPS)
        return self._net.scores(inputs)


def _joined(first: Scores, second: Scores) -> Scores:
    return Scores(
        np.concatenate([first.attack, second.attack]),
        np.concatenate([first.takeover, second.takeover]),
        np.concatenate([first.hidden, second.hidden]),
    )
