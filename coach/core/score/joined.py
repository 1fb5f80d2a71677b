"""Heads made into notes, one after the other: ties joined, overlaps cut, slurs checked.

A note is slurred where its slur began earlier and it follows another pitch at once; dots or lines
under the slur on this note and the one before mean a soft tongue (common practice, no source).
Ties are joined where the same pitch follows at once.  A note ends where the next begins.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from coach.core.score.line import LineNote, PlayedBar
from coach.core.score.model import Head

DETACHED = frozenset({"staccato", "tenuto", "portato"})


class Joined:
    """Takes heads in the order in which they are played; `made` are the notes so far, and
    `jumped` says that the next head follows a jump back."""

    def __init__(self) -> None:
        self.made: list[LineNote] = []
        self.jumped = False
        self._last: int | None = None
        self._head: Head | None = None

    def take(self, head: Head, bar: PlayedBar, transposition: int) -> None:
        note = _note(head, bar, transposition)
        if head.grace:
            self.made.append(note)
            return
        before = self.made[self._last] if self._last is not None else None
        if before is not None and self._tied(before, note, head):
            self._lengthen(note)
        else:
            self._cut_before(note.onset)
            slurred = self._slurred(before, note)
            self.made.append(replace(note, slurred=slurred))
            self._last = len(self.made) - 1
        self._head = head
        self.jumped = False

    def _tied(self, before: LineNote, note: LineNote, head: Head) -> bool:
        tied = head.tied_back or (self._head is not None and self._head.tied_on)
        at_once = before.onset + before.length == note.onset
        return tied and at_once and before.sounding == note.sounding

    def _lengthen(self, note: LineNote) -> None:
        assert self._last is not None
        before = self.made[self._last]
        whole = before.length + note.length
        marks = before.marks | (note.marks & {"fermata"})
        self.made[self._last] = replace(before, length=whole, tied=True, marks=marks)

    def _cut_before(self, onset: Fraction) -> None:
        if self._last is not None:
            before = self.made[self._last]
            if before.onset + before.length > onset:
                self.made[self._last] = replace(before, length=onset - before.onset)

    def _slurred(self, before: LineNote | None, note: LineNote) -> bool:
        if before is None or not note.slurred or self.jumped:
            return False
        softly = bool(note.marks & DETACHED and before.marks & DETACHED)
        at_once = before.onset + before.length >= note.onset
        return at_once and before.sounding != note.sounding and not softly


def _note(head: Head, bar: PlayedBar, transposition: int) -> LineNote:
    return LineNote(
        bar.number,
        bar.into + head.onset + 1,
        bar.start + head.onset,
        head.length,
        head.written.midi + transposition,
        head.written,
        head.slurred,
        head.grace,
        False,
        head.marks,
        head.fingering,
        head.syllable,
    )
