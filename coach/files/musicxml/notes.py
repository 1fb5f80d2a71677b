"""One <note>: a head, a rest, or something that only takes its time."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from xml.etree.ElementTree import Element

from coach.core.pitch import Spelled
from coach.files.musicxml import limits
from coach.files.musicxml.lengths import note_beats
from coach.files.musicxml.marks import NOTHING, Notations, notations_of, syllable_of, ties_of
from coach.files.musicxml.pitches import check_sounding, pitch_of
from coach.files.musicxml.place import Place
from coach.files.musicxml.state import State
from coach.files.musicxml.values import number_of, one_line

_ZERO = Fraction(0)
_CUE_SIZES = ("cue", "grace-cue")


@dataclass(slots=True)
class HeadDraft:
    """A head whose slurs, clef and transposition are not known before the bar is over.

    `printed` is the pitch as it stands in the file; `group` numbers the notes of the bar, chords
    as one.
    """

    onset: Fraction
    length: Fraction
    printed: Spelled
    voice: str
    staff: int
    group: int
    grace: bool
    chord: bool
    ties: tuple[bool, bool]
    notations: Notations
    syllable: str | None
    slurred: bool = False
    written: Spelled | None = None
    transposition: int = 0
    clef: str = "G"


@dataclass(frozen=True, slots=True)
class Read:
    """What a <note> is: its time as the file counts and exactly, both 0 for a grace note."""

    raw: Fraction
    exact: Fraction
    voice: str
    staff: int
    grace: bool
    chord: bool
    present: bool  # the voice is there: a note or a printed rest
    pitched: bool
    tags: dict[str, Element]


def read_note(note: Element, state: State, place: Place) -> Read:
    """Time and kind of a <note>; FileError for one without a length."""
    tags = {child.tag: child for child in note}
    grace = "grace" in tags
    raw = exact = _ZERO
    if not grace:
        raw, exact = _beats(note, tags, state, place)
        if not exact and "rest" not in tags:
            place.count("Notes without any length, taken as grace notes")
            grace, raw = True, _ZERO
    voice = one_line(tags["voice"].text, 20) if "voice" in tags else ""
    staff = number_of(tags["staff"].text) if "staff" in tags else None
    hidden = note.get("print-object") == "no"
    left_out = hidden or _is_cue(tags, grace)
    if left_out and "pitch" in tags:
        place.count(f"{'Hidden' if hidden else 'Cue'} notes left out")
    return Read(
        raw=raw,
        exact=exact,
        voice=voice or "1",
        staff=int(staff) if staff is not None and 1 <= staff <= limits.MAX_STAVES else 1,
        grace=grace,
        chord="chord" in tags,
        present=not left_out,
        pitched=not left_out and "pitch" in tags,
        tags=tags,
    )


def _beats(
    note: Element, tags: dict[str, Element], state: State, place: Place
) -> tuple[Fraction, Fraction]:
    rest = tags.get("rest")
    whole_bar = rest is not None and rest.get("measure") == "yes"
    if whole_bar and "duration" not in tags:
        return state.meter.bar_beats, state.meter.bar_beats
    dots = len(note.findall("dot")) if "dot" in tags else 0
    return note_beats(tags, dots, state.divisions, place)


def _is_cue(tags: dict[str, Element], grace: bool) -> bool:
    """Cue notes are another player's.  Grace notes are small anyway: their size says nothing."""
    if "cue" in tags:
        return True
    size = tags["type"].get("size") if "type" in tags else None
    return size in _CUE_SIZES and not (grace and size == "cue")


def drafted(note: Element, read: Read, onset: Fraction, group: int, place: Place) -> HeadDraft:
    """The head of a pitched note."""
    tags = read.tags
    notations = notations_of(note) if "notations" in tags else NOTHING
    return HeadDraft(
        onset=onset,
        length=read.exact,
        printed=pitch_of(tags["pitch"], place),
        voice=read.voice,
        staff=read.staff,
        group=group,
        grace=read.grace,
        chord=read.chord,
        ties=ties_of(note, notations) if "tie" in tags or notations.ties else (False, False),
        notations=notations,
        syllable=syllable_of(note) if "lyric" in tags else None,
    )


def settle(draft: HeadDraft, state: State, place: Place) -> None:
    """Written pitch, transposition and clef, once all changes in the bar are known."""
    transposing = state.transposing.at(draft.staff, draft.onset)
    draft.transposition = transposing.interval.semitones
    draft.written = transposing.written(draft.printed)
    draft.clef = state.clefs.at(draft.staff, draft.onset)
    check_sounding(draft.written.midi + draft.transposition, draft.printed.name, place)
