"""A line out of a score: one part, some bars, one voice of it, played out.

Chords and voices.  A part for two players may have chords, or two voices in a bar.  "top" takes the
first voice that is there in a bar (with notes or printed rests) and the highest note of its chords,
"bottom" the last voice and the lowest note; the name of a voice takes that one alone, and the
highest note of its chords.  In a voice that overlaps itself a note ends where the next begins.

"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import TypeVar

from coach.core.score.bars import bars_between, beginnings
from coach.core.score.joined import Joined
from coach.core.score.line import Line, PlayedBar
from coach.core.score.model import Head, Part, PartBar, Score
from coach.core.score.roadmap import played_order
from coach.errors import CoachError

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Reading:
    """How a part is read: `divisi` is "top", "bottom" or a voice; `crook`, if not None, is the
    transposition to read it with in place of the file's; `old_bass_clef`: notes in bass clef sound
    an octave higher than they would in today's way of writing."""

    divisi: str = "top"
    crook: int | None = None
    old_bass_clef: bool = False


@dataclass(frozen=True, slots=True)
class Choice:
    """What to take out of a score: a part by name or number, bars by their printed numbers, and how
    the part is read; None: the only part, all bars.  `strict`: the ensemble makes no change of
    tempo that is only a word."""

    part: str | None = None
    bars: str | None = None
    reading: Reading = Reading()
    strict: bool = False


def part_of(score: Score, wanted: str | None) -> Part:
    """The part by name, a piece of its name, or number from 1; CoachError if there is none."""
    parts = score.parts
    if wanted is None:
        if len(parts) == 1:
            return parts[0]
        raise CoachError(f"it has {len(parts)} parts", "", f"choose one with --part: {_all(parts)}")
    folded = wanted.strip().casefold()
    named = [part for part in parts if part.name.casefold() == folded]
    if not named and folded.isdecimal() and 1 <= int(folded) <= len(parts):
        return parts[int(folded) - 1]
    found = named or [part for part in parts if folded and folded in part.name.casefold()]
    if len(found) == 1:
        return found[0]
    if found:
        named_parts = _all(found, parts)
        raise CoachError(f'several parts are called "{wanted}"', "", f"choose from {named_parts}")
    raise CoachError(f'there is no part "{wanted}"', "", f"choose from {_all(parts)}")


def _all(found: Sequence[Part], parts: Sequence[Part] = ()) -> str:
    numbers = [k for k, part in enumerate(parts or found) if part in found]
    return ", ".join(f"{k + 1} ({(parts or found)[k].name})" for k in numbers[:40])


def line_of(
    score: Score, part: Part, bars: str | None = None, reading: Reading | None = None
) -> Line:
    """The line that this part plays in those bars; CoachError if there are no such bars."""
    if not score.frames:
        raise CoachError("it has no bars", "", "choose another file")
    return line_between(score, part, *bars_between(score.frames, bars), reading or Reading())


def line_between(score: Score, part: Part, first: int, last: int, reading: Reading) -> Line:
    """The line that this part plays from bar `first` to `last`, counted from 0."""
    order = played_order([frame.signs for frame in score.frames], first, last)
    played = _played(score, order)
    voice = _voice(part, range(first, last + 1), reading.divisi)
    notes = Joined()
    for bar, before in zip(played, (None, *played), strict=False):
        notes.jumped = before is not None and before.index >= bar.index
        for head in _chosen(part.bars[bar.index], reading.divisi, voice):
            notes.take(head, bar, _transposition(head, reading))
    transposition = _part_transposition(part, range(first, last + 1), reading)
    return Line(
        score.title,
        part.name,
        transposition,
        tuple(notes.made),
        played,
        _keys(part, played),
        in_force([frame.tempos for frame in score.frames], played),
        score.remarks,
    )


def _played(score: Score, order: Sequence[int]) -> tuple[PlayedBar, ...]:
    into = beginnings(score.frames)
    made, start = [], Fraction(0)
    for index in order:
        frame = score.frames[index]
        made.append(PlayedBar(index, frame.number, start, frame.length, frame.meter, into[index]))
        start += frame.length
    return tuple(made)


def _transposition(head: Head, reading: Reading) -> int:
    usual = head.transposition if reading.crook is None else reading.crook
    return usual + (12 if reading.old_bass_clef and head.clef == "F" else 0)


def _part_transposition(part: Part, span: range, reading: Reading) -> int:
    if reading.crook is not None:
        return reading.crook
    heads = (head for index in span for head in part.bars[index].heads)
    return next((head.transposition for head in heads), part.transposition)


def _voice(part: Part, span: range, divisi: str) -> tuple[int, str] | None:
    """The only voice to be read: the one that was asked for, or, for the top and the bottom, the
    only one that has notes in these bars; None: bar by bar."""
    found = {(head.staff, head.voice) for index in span for head in part.bars[index].heads}
    if divisi in ("top", "bottom"):
        return next(iter(found)) if len(found) == 1 else None
    named = sorted(voice for voice in found if voice[1] == divisi)
    if not named:
        there = ", ".join(sorted({name for _, name in found}))
        hint = f"choose top, bottom or {there}" if found else "choose other bars"
        raise CoachError(f'{part.name} has no notes in a voice "{divisi}" here', "", hint)
    return named[0]


def _chosen(bar: PartBar, divisi: str, voice: tuple[int, str] | None) -> Iterator[Head]:
    """The heads of one voice in one bar, one of each chord."""
    voices = sorted(bar.voices or {(head.staff, head.voice) for head in bar.heads}, key=_order)
    if voice is None and voices:
        voice = voices[-1] if divisi == "bottom" else voices[0]
    heads = [h for h in bar.heads if (h.staff, h.voice) == voice and (h.grace or h.length > 0)]
    for chord in _chords(heads):
        pick = min if divisi == "bottom" else max
        yield pick(chord, key=lambda head: head.sounding)


def _order(voice: tuple[int, str]) -> tuple[int, int, str]:
    """Staff by staff, voices by number."""
    staff, name = voice
    return staff, int(name) if name.isdecimal() else 0, name


def _chords(heads: Sequence[Head]) -> list[list[Head]]:
    """Heads that sound together, in order of time; a grace note is never together with another
    but where it says so."""
    groups: list[list[Head]] = []
    for head in sorted(heads, key=lambda h: (h.onset, not h.grace)):
        before = groups[-1][0] if groups else None
        together = before is not None and head.chord
        if before is not None and not head.grace and not before.grace:
            together = before.onset == head.onset
        if together:
            groups[-1].append(head)
        else:
            groups.append([head])
    return groups


def _keys(part: Part, played: Sequence[PlayedBar]) -> tuple[tuple[Fraction, int], ...]:
    """Keys in force and their changes, as played; no signature where none is said."""
    made = in_force([bar.keys for bar in part.bars], played)
    return made if made and made[0][0] == 0 else ((Fraction(0), 0), *made)


def in_force(
    changes: Sequence[Sequence[tuple[Fraction, T]]], played: Sequence[PlayedBar]
) -> tuple[tuple[Fraction, T], ...]:
    """What holds, as (onset, value) along the bars played: `changes` has for each bar of the score
    the (onset in the bar, value) printed there; going back brings back what held there."""
    at_start: list[T | None] = [None]
    for bar in changes:
        at_start.append(bar[-1][1] if bar else at_start[-1])
    found: dict[Fraction, T] = {}
    for place in played:
        held = at_start[place.index]
        if held is not None:
            found[place.start] = held
        found.update((place.start + onset, value) for onset, value in changes[place.index])
    made: list[tuple[Fraction, T]] = []
    for onset, value in sorted(found.items(), key=lambda item: item[0]):
        if not made or made[-1][1] != value:
            made.append((onset, value))
    return tuple(made)
