"""Repeats, endings, D.C., D.S., coda and Fine played out: the order in which bars are played.

Common practice where files are silent: a backward repeat without a forward one goes to the end of
the repeat before (round a repeat that is marked at both ends: to where that one's outer section
began); after a D.C. or D.S. repeats are not played and the last ending is; Fine and To Coda count
only then.  A selection is a piece of its own: a repeat that begins before it is not played, and of
endings whose repeat is cut off only the last is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from coach.core.score.model import Signs
from coach.errors import CoachError

# Nothing on a stand is as long: some four hours of 4/4 at a walking tempo.
MOST_BARS = 20_000
NEVER = frozenset({0})


def played_order(signs: Sequence[Signs], first: int, last: int) -> tuple[int, ...]:
    """The indices of bars `first` to `last` (both included) as they are played.

    CoachError if the repeats make more than MOST_BARS of it.
    """
    inside = _cut(signs, first, last)
    return tuple(first + k for k in _Walk(inside).order())


@dataclass(slots=True)
class _Section:
    """A stretch that may be repeated; `turn` is how often it has begun."""

    start: int
    turn: int = 1


@dataclass(frozen=True, slots=True)
class _Map:
    """For each bar: the first bar of the section that its repeat goes back to, and its group of
    endings (neighbouring bars with endings) as a range, empty where it is in none."""

    starts: tuple[int, ...]
    groups: tuple[range, ...]


def _map(signs: Sequence[Signs]) -> _Map:
    groups = _groups(signs)
    starts, stack = [], [0]
    for at, sign in enumerate(signs):
        if sign.forward:
            if at in groups[at][1:]:
                stack.pop()
            if not stack or stack[-1] != at:
                stack.append(at)
        starts.append(stack[-1])
        if _ends_section(signs, groups, at):
            stack.pop()
            stack = stack or [at + 1]
    return _Map(tuple(starts), groups)


def _groups(signs: Sequence[Signs]) -> tuple[range, ...]:
    made: list[range] = []
    at = 0
    while at < len(signs):
        end = at
        while end < len(signs) and signs[end].endings and not (end > at and _anew(signs, end)):
            end += 1
        made += [range(at, end)] * (end - at) or [range(at, at)]
        at = max(end, at + 1)
    return tuple(made)


def _anew(signs: Sequence[Signs], at: int) -> bool:
    """An ending 1 right after another ending begins a group of its own."""
    return 1 in signs[at].endings and 1 not in signs[at - 1].endings


def _ends_section(signs: Sequence[Signs], groups: tuple[range, ...], at: int) -> bool:
    if signs[at].endings:
        # A forward repeat in a later ending has closed the section already.
        closed = any(signs[k].forward for k in groups[at][1:])
        repeats = any(signs[k].plays for k in groups[at])
        return at == groups[at].stop - 1 and repeats and not closed
    return signs[at].plays > 0


def _turns(signs: Sequence[Signs], group: range, plays: int) -> int:
    """How often all is played: as the repeat says, or as often as there are endings."""
    if not group:
        return plays
    marked = max(max(signs[k].endings) for k in group)
    alone = len({signs[k].endings for k in group}) == 1
    return marked + 1 if alone and signs[group.stop - 1].plays else marked


def _cut(signs: Sequence[Signs], first: int, last: int) -> list[Signs]:
    """The signs of the selection, without those that lead out of it."""
    whole = _map(signs)
    made = []
    for at in range(first, last + 1):
        sign = signs[at]
        group = whole.groups[at]
        broken = bool(group) and not (first <= group.start and group.stop - 1 <= last)
        if whole.starts[at] < first or broken:
            sign = _without_repeat(signs, sign, [k for k in group if first <= k <= last])
        made.append(_without_far_jumps(sign, first))
    return made


def _without_repeat(signs: Sequence[Signs], sign: Signs, group: Sequence[int]) -> Signs:
    if not sign.endings:
        return replace(sign, plays=0)
    last = max(max(signs[k].endings) for k in group)
    return replace(sign, plays=0, endings=frozenset() if last in sign.endings else NEVER)


def _without_far_jumps(sign: Signs, first: int) -> Signs:
    return replace(sign, jump="") if sign.jump == "capo" and first > 0 else sign


@dataclass(slots=True)
class _Walk:
    """The player's walk through the bars."""

    signs: Sequence[Signs]
    at: int = 0
    jumped: bool = False
    stack: list[_Section] = field(default_factory=lambda: [_Section(0)])
    came_back: bool = False
    taken: set[int] = field(default_factory=set)
    groups: tuple[range, ...] = ()

    def order(self) -> list[int]:
        self.groups = _map(self.signs).groups
        made: list[int] = []
        while self.at < len(self.signs):
            here = self.at
            if self._skipped():
                self._on(here)
                continue
            self._begin()
            made.append(here)
            if len(made) > MOST_BARS:
                hint = "choose fewer bars, or mend the repeat signs"
                raise CoachError(f"the repeats make more than {MOST_BARS} bars of it", "", hint)
            if not self._end():
                break
        return made

    def _skipped(self) -> bool:
        """Whether this bar belongs to another ending than is due."""
        sign, top = self.signs[self.at], self.stack[-1]
        if not sign.endings or (self.came_back and top.start == self.at):
            return False
        if sign.endings == NEVER:
            return True
        if self.jumped and not self._repeats_after_jump():
            return self._turns() not in sign.endings
        return top.turn not in sign.endings

    def _repeats_after_jump(self) -> bool:
        group = self.groups[self.at]
        return any(self.signs[k].after_jump for k in group or [self.at])

    def _turns(self) -> int:
        group = self.groups[self.at]
        last = max(max(self.signs[k].endings) for k in group)
        return min(_turns(self.signs, group, 0), last)

    def _begin(self) -> None:
        sign = self.signs[self.at]
        if sign.forward and not (self.came_back and self.stack[-1].start == self.at):
            if self.at in self.groups[self.at][1:]:
                self.stack.pop()
            if not self.stack or self.stack[-1].start != self.at:
                self.stack.append(_Section(self.at))
        self.came_back = False

    def _end(self) -> bool:
        """Move on from the bar just played; False at the Fine."""
        here, sign = self.at, self.signs[self.at]
        if sign.plays and self._goes_back(here, sign):
            return True
        if self.jumped and sign.fine:
            return False
        if self.jumped and sign.to_coda and self._go_to_coda(sign):
            return True
        if sign.jump and here not in self.taken and self._jump(here, sign):
            return True
        self._on(here)
        return True

    def _goes_back(self, here: int, sign: Signs) -> bool:
        if self.jumped and not sign.after_jump:
            return False
        top = self.stack[-1]
        if top.turn >= _turns(self.signs, self.groups[here], sign.plays):
            return False
        top.turn += 1
        self.at, self.came_back = top.start, True
        return True

    def _on(self, here: int) -> None:
        """To the next bar; a section that is over is left."""
        if _ends_section(self.signs, self.groups, here) and self.stack:
            self.stack.pop()
            self.stack = self.stack or [_Section(here + 1)]
        self.at = here + 1

    def _go_to_coda(self, sign: Signs) -> bool:
        target = self._find("coda", sign.to_coda)
        if target is None:
            return False
        self._land(target)
        return True

    def _jump(self, here: int, sign: Signs) -> bool:
        target = 0 if sign.jump == "capo" else self._find("segno", sign.jump_label)
        if target is None:
            return False
        self.taken.add(here)
        self.jumped = True
        self._land(target)
        return True

    def _land(self, target: int) -> None:
        self.at, self.stack, self.came_back = target, [_Section(target)], False

    def _find(self, kind: str, label: str) -> int | None:
        """The bar with that sign: by its label, else the first one."""
        found = [k for k, sign in enumerate(self.signs) if getattr(sign, kind)]
        same = [k for k in found if getattr(self.signs[k], kind) == label]
        return next(iter(same or found), None)
