"""Bar lines: repeats, ending brackets, segno and coda on them."""

from __future__ import annotations

from fractions import Fraction
from xml.etree.ElementTree import Element

from coach.files.musicxml.frames import FrameDraft
from coach.files.musicxml.limits import MAX_BEATS
from coach.files.musicxml.place import Place
from coach.files.musicxml.said import SIGN, JumpMark, passes_of, plays_of
from coach.files.musicxml.values import one_line

_ZERO = Fraction(0)
_DOUBLE = ("light-light", "light-heavy", "heavy-light", "heavy-heavy")


def read_barline(barline: Element, drafts: list[FrameDraft], index: int, place: Place) -> None:
    """Take up what a bar line of the bar `index` says; a sign on the far side of it belongs to the
    neighbour."""
    left = barline.get("location", "right") == "left"
    draft = drafts[index]
    before = drafts[max(0, index - 1)] if left else draft
    _repeat(barline.find("repeat"), before, draft, left, place)
    _ending(barline.find("ending"), before, draft, left)
    if (index or not left) and barline.findtext("bar-style") in _DOUBLE:
        before.double_bar = before.double_bar or barline.get("location") != "middle"
    at = _ZERO if left else MAX_BEATS
    group = draft.next_group()
    for kind in ("segno", "coda"):
        label = one_line(barline.get(kind), 40)
        if label or barline.find(kind) is not None:
            draft.marks.append(JumpMark(kind, label or kind, SIGN, at, group))


def _repeat(
    repeat: Element | None, before: FrameDraft, draft: FrameDraft, left: bool, place: Place
) -> None:
    direction = None if repeat is None else repeat.get("direction")
    if repeat is not None and direction == "backward":
        before.plays = max(before.plays, plays_of(repeat, place))
        before.after_jump = before.after_jump or repeat.get("after-jump") == "yes"
    elif direction == "forward" and left:
        draft.forward = True
    elif direction == "forward":
        draft.forward_next = True


def _ending(ending: Element | None, before: FrameDraft, draft: FrameDraft, left: bool) -> None:
    if ending is None:
        return
    if ending.get("type") != "start":
        before.closes = True
    elif left:
        draft.opens = draft.opens or passes_of(ending)
    else:
        draft.opens_next = draft.opens_next or passes_of(ending)
