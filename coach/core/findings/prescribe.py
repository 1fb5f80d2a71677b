"""The drill for a finding: what a teacher would have the player do with it (common practice, no
source)."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from coach.core.exercise import ClickStyle, Drill
from coach.core.findings.facts import is_back
from coach.core.findings.find import DRAGGING, RUSHING, Finding
from coach.core.findings.questions import (
    BACK,
    EXCHANGE,
    HALF,
    LEAP,
    NOTE,
    OFF_BEAT,
    PITCH,
    REGISTER,
    SIDE,
)
from coach.core.passage import Note, Passage
from coach.core.patterns.layout import returning
from coach.core.variants.fingers import exchanges, slur_then_tongue
from coach.core.variants.fragments import add_a_note
from coach.core.variants.laying import cut, joined_title
from coach.core.variants.rhythm import rhythms
from coach.core.variants.tongue import STAGES, tonguing

# Not more places than a player works at in one go.
MOST_PLACES = 3
NOTES_BEFORE, NOTES_AFTER = 3, 2
TIMES = 4
# Longer passages are not repeated, nor played whole at the end of the drill.
LONGEST_BARS = 16
MOST_STEPS = 6
SUFFIX = "-next"
PATTERNS = {"double": "tk", "ttk": "ttk", "tkt": "tkt"}


def drill_for(finding: Finding, drill: Drill) -> Drill:
    """The drill for a finding in a passage of `drill`: its variants lead back to the passage;
    tempi, gate and instrument stay."""
    steps = tuple(_STEPS[finding.kind](finding))
    return replace(
        drill,
        name=f"{drill.name.removesuffix(SUFFIX)}{SUFFIX}",
        title=f"{drill.title}: {finding.kind}",
        about=finding.sentence,
        variants=(*steps, finding.passage) if _is_short(finding.passage) else steps,
        click=_click(finding, drill.click),
    )


def _is_short(passage: Passage) -> bool:
    return passage.length_beats <= LONGEST_BARS * passage.bar_beats


def _click(finding: Finding, click: ClickStyle) -> ClickStyle:
    """Who rushes counts silent bars alone; who drags hears the halves of the beat."""
    if finding.kind == RUSHING:
        return replace(click, off_bars=(1, 1))
    return replace(click, subdivision=2) if finding.kind == DRAGGING else click


def _apart(finding: Finding) -> list[int]:
    """The first few of the notes that are reached in different ways."""
    notes = finding.passage.notes
    ways: dict[tuple[int, int], int] = {}
    for k in finding.notes:
        ways.setdefault((notes[max(0, k - 1)].pitch, notes[k].pitch), k)
    return list(ways.values())[:MOST_PLACES]


def _around(passage: Passage, k: int) -> Passage:
    first = max(0, k - NOTES_BEFORE)
    return cut(passage, first, k + NOTES_AFTER + 1 - first, joined_title(passage, f"note {k + 1}"))


def _to_and_fro(passage: Passage, k: int) -> tuple[Passage, ...]:
    """From the note before to note k and back, slurred, then tongued; whatever the fingers do."""
    pair = cut(passage, max(0, k - 1), 2, passage.title)
    bare = replace(pair, notes=tuple(replace(note, fingering=None) for note in pair.notes))
    # Named by their place: the passage sounds, and the player reads written notes.
    hows = ("slurred", "tongued")
    return tuple(
        replace(made, title=joined_title(passage, f"into note {k + 1}, {how}"))
        for made, how in zip(exchanges(pair) or exchanges(bare), hows, strict=False)
    )


def _alone_and_in_place(finding: Finding) -> Iterator[Passage]:
    """To and fro, slurred so that nothing hides the fingers, then tongued; then, likewise, in its
    place."""
    for k in _apart(finding):
        yield from _to_and_fro(finding.passage, k)
        yield from slur_then_tongue(_around(finding.passage, k))


def _windows(finding: Finding) -> Iterator[Passage]:
    """Around each note: slurred, tongued, and as written."""
    for k in _apart(finding):
        place = _around(finding.passage, k)
        yield from (*slur_then_tongue(place), place)


def _leapt(finding: Finding) -> Iterator[Passage]:
    """The leap alone, then in its place."""
    for k in _apart(finding):
        yield from (*_to_and_fro(finding.passage, k), _around(finding.passage, k))


def _back_made_strong(finding: Finding) -> Sequence[Passage]:
    """On the pitches of the passage: the back alone, on the beat, then as it is played."""
    notes = finding.passage.notes
    spoken = [note.syllable for note in notes if note.syllable]
    back = notes[finding.notes[0]].syllable or "ka"
    front = next((syllable for syllable in spoken if not is_back(syllable)), "ta")
    made = tonguing(finding.passage, _pattern(spoken), front, back)
    return made[-len(made) // len(STAGES) :]


def _pattern(spoken: Sequence[str]) -> str:
    """The pattern that fits most of the syllables."""
    letters = ["k" if is_back(syllable) else "t" for syllable in spoken]

    def fits(name: str) -> int:
        order = PATTERNS[name]
        return sum(order[k % len(order)] == letter for k, letter in enumerate(letters))

    return max(PATTERNS, key=fits)


def _from_the_end(finding: Finding) -> Sequence[Passage]:
    """The end, then more before it each time (one note, where the half is short enough)."""
    count = len(finding.notes)
    half = cut(finding.passage, finding.notes[0], count, finding.passage.title)
    return add_a_note(half, end="front", by=-(-count // MOST_STEPS))


def _into_register(finding: Finding) -> Iterator[Passage]:
    """Long tones on its notes, then slurs into them from the notes before."""
    notes = finding.passage.notes
    yield _long_tones(finding.passage, [notes[k] for k in finding.notes])
    for k in _apart(finding):
        yield from _to_and_fro(finding.passage, k)[:1]


def _long_tones(passage: Passage, notes: Sequence[Note]) -> Passage:
    """Each pitch for a bar, less a beat to breathe."""
    bar = passage.bar_beats
    length = bar - passage.pulse_beats or bar
    pitches = {note.pitch: note for note in reversed(notes)}
    made = (
        Note(note.pitch, k * bar, length, fingering=note.fingering)
        for k, note in enumerate(sorted(pitches.values(), key=lambda note: note.pitch))
    )
    return replace(passage, notes=tuple(made), title=joined_title(passage, "long tones"))


def _off_beat(finding: Finding) -> Sequence[Passage]:
    """In pairs, the first note long and then the second."""
    return rhythms(finding.passage)


def _in_time(finding: Finding) -> Sequence[Passage]:
    """Over and over, so that the click has bars to be silent in."""
    passage = finding.passage
    if not _is_short(passage):
        return (passage,)
    return (returning(passage, passage.length_beats, (0,) * TIMES),)


_STEPS: dict[str, Callable[[Finding], Iterator[Passage] | Sequence[Passage]]] = {
    NOTE: _windows,
    PITCH: _windows,
    EXCHANGE: _alone_and_in_place,
    SIDE: _alone_and_in_place,
    LEAP: _leapt,
    BACK: _back_made_strong,
    HALF: _from_the_end,
    REGISTER: _into_register,
    OFF_BEAT: _off_beat,
    RUSHING: _in_time,
    DRAGGING: _in_time,
}
