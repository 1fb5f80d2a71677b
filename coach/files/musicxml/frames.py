"""The bars of the whole score, put together out of what its parts say of each."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from fractions import Fraction
from itertools import pairwise

from coach.core.score.model import Frame, Meter, Signs
from coach.core.score.tempowords import word_of
from coach.files.musicxml import limits
from coach.files.musicxml.place import Place
from coach.files.musicxml.said import NO_TEMPO, SIGN, SOUND, WORDS, JumpMark, Tempo

_ZERO = Fraction(0)
_JUMPS = ("dacapo", "dalsegno")


@dataclass(slots=True)
class FrameDraft:
    """One bar as far as it has been read; `opens` and `closes` are of ending brackets."""

    number: str
    implicit: bool
    length: Fraction = _ZERO
    meter: Meter | None = None
    forward: bool = False
    plays: int = 0
    after_jump: bool = False
    forward_next: bool = False  # said at the end of this bar, for the start of the next
    opens: frozenset[int] = frozenset()
    opens_next: frozenset[int] = frozenset()
    closes: bool = False
    marks: list[JumpMark] = field(default_factory=list)
    tempos: list[Tempo] = field(default_factory=list)
    words: list[tuple[Fraction, str]] = field(default_factory=list)
    double_bar: bool = False
    groups: int = 0

    def next_group(self) -> int:
        self.groups += 1
        return self.groups


def frames_of(drafts: list[FrameDraft], place: Place) -> tuple[Frame, ...]:
    """Meters carried on, signs at their ends of the bars, tempos in quarter notes a minute."""
    for before, after in pairwise(drafts):
        after.forward = after.forward or before.forward_next
        after.opens = after.opens or before.opens_next
    meters = _meters(drafts)
    for draft, meter in zip(drafts, meters, strict=True):
        draft.length = draft.length or meter.bar_beats
    signs, tempos = _signs(drafts), _tempos(drafts, place)
    parts = zip(drafts, meters, signs, tempos, _words(drafts), strict=True)
    return tuple(
        Frame(
            draft.number, draft.length, meter, draft.implicit, sign, tempo, words, draft.double_bar
        )
        for draft, meter, sign, tempo, words in parts
    )


def _meters(drafts: list[FrameDraft]) -> list[Meter]:
    meter, made = Meter(), []
    for draft in drafts:
        meter = draft.meter or meter
        made.append(meter)
    return made


def _signs(drafts: list[FrameDraft]) -> list[Signs]:
    signs = [
        Signs(
            forward=draft.forward, plays=draft.plays, after_jump=draft.after_jump, endings=endings
        )
        for draft, endings in zip(drafts, _endings(drafts), strict=True)
    ]
    codas = []
    for index, draft in enumerate(drafts):
        for mark in _meant(draft.marks):
            target = index + _moved(mark, draft.length)
            if not 0 <= target < len(drafts):
                target = index
            signs[target] = _with(signs[target], mark)
            if mark.kind == "coda":
                codas.append((index, target, mark))
    return _first_coda_left(signs, codas)


def _endings(drafts: list[FrameDraft]) -> list[frozenset[int]]:
    """A bracket lasts up to its end, the next backward repeat or the next bracket; with none of
    these before a forward repeat or the end it is over its first bar."""
    made: list[frozenset[int]] = [frozenset()] * len(drafts)
    index = 0
    while index < len(drafts):
        opened, end = drafts[index].opens, _end_of_bracket(drafts, index)
        if opened:
            made[index:end] = [opened] * (end - index)
        index = end if opened else index + 1
    return made


def _end_of_bracket(drafts: list[FrameDraft], start: int) -> int:
    """The bar after a bracket that begins at `start`."""
    for index in range(start, len(drafts)):
        if index > start and drafts[index].opens:
            return index
        if index > start and drafts[index].forward:
            break
        if drafts[index].closes or drafts[index].plays:
            return index + 1
    return start + 1


def _meant(marks: list[JumpMark]) -> list[JumpMark]:
    """Words count where no sound says it, signs where they are not part of "D.S." or "to coda"."""
    by_sound = {_what(mark) for mark in marks if mark.by == SOUND}
    said = {mark.kind for mark in marks if mark.by != SIGN}
    jumping = {mark.group for mark in marks if mark.kind in _JUMPS}
    leaving = "tocoda" in said

    def counts(mark: JumpMark) -> bool:
        if mark.by == SOUND:
            return True
        if _what(mark) in by_sound:
            return False
        if mark.by == WORDS:
            return True
        return not (mark.kind == "coda" and leaving) and mark.group not in jumping

    return [mark for mark in marks if counts(mark)]


def _what(mark: JumpMark) -> str:
    return "jump" if mark.kind in _JUMPS else mark.kind


def _moved(mark: JumpMark, length: Fraction) -> int:
    """To which bar a mark belongs: a place to jump to at the end of a bar is the start of the next,
    and one may leave at the end of the bar before, not after the first note."""
    if mark.kind in ("segno", "coda") and mark.at >= length:
        return 1
    return -1 if mark.kind == "tocoda" and not mark.at else 0


def _with(signs: Signs, mark: JumpMark) -> Signs:
    if mark.kind == "segno":
        return replace(signs, segno=signs.segno or mark.label)
    if mark.kind == "coda":
        return replace(signs, coda=signs.coda or mark.label)
    if mark.kind == "tocoda":
        return replace(signs, to_coda=signs.to_coda or mark.label)
    if mark.kind == "fine":
        return replace(signs, fine=True)
    if signs.jump:
        return signs
    if mark.kind == "dacapo":
        return replace(signs, jump="capo")
    return replace(signs, jump="segno", jump_label=mark.label)


def _first_coda_left(signs: list[Signs], codas: list[tuple[int, int, JumpMark]]) -> list[Signs]:
    """Two coda signs and no word of leaving: at the first one leaves, to the other one."""
    places = sorted({target for _, target, _ in codas})
    if len(places) != 2 or any(sign.to_coda for sign in signs):
        return signs
    index, target, mark = next(coda for coda in codas if coda[1] == places[0])
    signs[target] = replace(signs[target], coda="")
    leave = max(0, index - 1) if not mark.at else index
    signs[leave] = replace(signs[leave], to_coda=signs[places[1]].coda)
    return signs


def _tempos(drafts: list[FrameDraft], place: Place) -> list[tuple[tuple[Fraction, float], ...]]:
    """One tempo for each place, the player's before the printed one; those at the very end of a
    bar begin the next."""
    slowest, fastest = limits.TEMPO_BPM
    bpm, late, made = 0.0, list[Tempo](), []
    for draft in drafts:
        said = [*late, *draft.tempos]
        late = [replace(t, at=_ZERO) for t in draft.tempos if t.at >= draft.length]
        chosen: dict[Fraction, float] = {}
        for tempo in sorted(said, key=lambda t: (t.at, t.by != SOUND)):
            if tempo.at in chosen or tempo.at >= draft.length:
                continue
            told = bpm * tempo.bpm if tempo.relative else tempo.bpm
            if slowest <= told <= fastest:
                chosen[tempo.at] = bpm = told
            elif told:
                place.count(NO_TEMPO)
        made.append(tuple(chosen.items()))
    return made


def _words(drafts: list[FrameDraft]) -> list[tuple[tuple[Fraction, str], ...]]:
    """Each direction of tempo once, whichever parts have it; at the very end of a bar it is of the
    next, and a dashed line goes on to the end of the bar in which it is drawn last."""
    late, made = list[tuple[Fraction, str]](), []
    for draft in drafts:
        said = [*late, *draft.words]
        late = [(_ZERO, text) for at, text in said if at >= draft.length or (at and not text)]
        here = [(at, text) for at, text in said if at < draft.length and (text or not at)]
        once = {(at, word_of(text)): text for at, text in reversed(here)}
        made.append(tuple(sorted((at, text) for (at, _), text in once.items())))
    return made
