"""How one player's take fits into the ensemble.

All deviations are the attack less where it should be, above 0 late.  What is the same on every
note is the take's offset (`offset_ms` against the tempo map, `behind_ms` against the others; both
medians) and is taken off everything else, so that a microphone at the other end of the room
changes these two only.

Releases are the ends of the notes before a rest, at the end and under a fermata (`cutoffs`), where
the ear told them (`hear/releases`); the take's offset is taken off them as well.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from statistics import fmean, median, pstdev
from typing import Any

from coach.core.passage import Note, bar_index
from coach.core.report import Report
from coach.core.timeline import Plan, frame_of
from coach.core.tutti.chord import ChordPitch, against_chord
from coach.core.tutti.cutoffs import Cutoff, cutoffs
from coach.core.tutti.drift import Drift, Followed, drifts, followed
from coach.core.tutti.ensemble import Ensemble
from coach.core.tutti.heard import HeardAmong, heard_notes
from coach.core.tutti.others import chords, starts_of, stops_at
from coach.core.tutti.plain import plain_of

NO_RELEASES = "releases were not measured"
# A coefficient of variation of fewer intervals says nothing.
FEWEST_INTERVALS = 4


@dataclass(frozen=True, slots=True)
class Together:
    """An own attack: against the tempo map, and against the other `voices` (numbers in the
    ensemble) that start with it; None where none does or none of them was heard."""

    index: int
    bar: int
    grid_ms: float
    voices: tuple[int, ...]
    against_ms: float | None


@dataclass(frozen=True, slots=True)
class Entry:
    """The first note after a rest of a beat or more, or after a fermata; `late_ms` is None where it
    was not heard as what it should be."""

    index: int
    bar: int
    after: str
    rest_beats: Fraction
    late_ms: float | None


@dataclass(frozen=True, slots=True)
class Release:
    """The end of an own note before a rest, the end or (`before`) a fermata's next note: `late_ms`
    against the written end, `against_ms` against the `voices` that fall silent with it; None where
    none does, or only such as somebody played, whose ends are not known."""

    index: int
    bar: int
    before: str
    pulses: Fraction
    late_ms: float
    voices: tuple[int, ...]
    against_ms: float | None


@dataclass(frozen=True, slots=True)
class Evenness:
    """A run of equal notes without a hole, from note `first` to `last` (indices): the coefficient
    of variation of its intervals, each as a share of the written one, so that a change of tempo is
    no unevenness."""

    first: int
    last: int
    from_bar: int
    to_bar: int
    length_beats: Fraction
    intervals: int
    cv: float


@dataclass(frozen=True, slots=True)
class EnsembleFit:
    """The take in the ensemble; `tuning_cents` is the player's own against A = 440 Hz, which the
    pitches still hold.  `spread_ms` is the standard deviation of what is left of the attacks.
    `unmeasured` names what nobody listened to.
    """

    offset_ms: float | None
    behind_ms: float | None
    spread_ms: float | None
    tuning_cents: float
    attacks: tuple[Together, ...]
    entries: tuple[Entry, ...]
    pitches: tuple[ChordPitch, ...]
    runs: tuple[Evenness, ...]
    drifts: tuple[Drift, ...]
    changes: tuple[Followed, ...]
    releases: tuple[Release, ...] = ()
    unmeasured: str = ""

    def to_dict(self) -> dict[str, Any]:
        """Plain data: milliseconds, cents, quarter notes of the page as numbers."""
        return plain_of(self)


def fit_of(
    report: Report,
    plan: Plan,
    ensemble: Ensemble,
    other_attacks: Mapping[int, Sequence[int]] | None = None,
    releases: Mapping[int, int] | None = None,
) -> EnsembleFit:
    """The take against its ensemble, whose beats are those of the plan's passage.

    `other_attacks`: for each voice that was played by somebody the frames of its heard attacks, on
    the axis of the plan; without it the others sound exactly where they are written.  `releases`:
    the end frame of each own note (by index) that was measured; None if nobody listened to them.
    """
    heard = heard_notes(report, plan)
    starts = starts_of(plan, ensemble, other_attacks)
    met = [(note, *_met(note, starts, plan.rate)) for note in heard]
    offset = _median([note.off_ms for note in heard])
    behind = _behind(met, None if other_attacks else offset)
    entries = _entries(plan, heard, offset or 0.0)
    return EnsembleFit(
        offset,
        behind,
        pstdev(note.off_ms for note in heard) if len(heard) > 1 else None,
        report.tuning_cents,
        tuple(_together(note, offset, voices, off, behind) for note, voices, off in met),
        entries,
        tuple(_pitches(heard, ensemble)),
        tuple(_runs(plan, heard)),
        drifts(plan, heard, [entry.index for entry in entries]),
        followed(plan, heard),
        tuple(_releases(plan, ensemble, heard, other_attacks or {}, releases or {}, offset or 0.0)),
        NO_RELEASES if releases is None else "",
    )


def _median(values: Sequence[float]) -> float | None:
    return median(values) if values else None


def _behind(
    met: Sequence[tuple[HeardAmong, tuple[int, ...], float | None]], exact: float | None
) -> float | None:
    """The middle of the distances from the others; `exact`, that from the tempo map, where they
    keep to it, so that both have one zero."""
    offs = [off for _, _, off in met if off is not None]
    return exact if offs and exact is not None else _median(offs)


def _met(
    note: HeardAmong, starts: Mapping[int, Mapping[Fraction, int]], rate: int
) -> tuple[tuple[int, ...], float | None]:
    """The voices that start with a note, and how far (ms) it lies behind the middle of them."""
    frames = {voice: at[note.beats] for voice, at in starts.items() if note.beats in at}
    if not frames:
        return (), None
    return tuple(frames), (note.attack.frame - fmean(frames.values())) * 1000 / rate


def _together(
    note: HeardAmong,
    offset: float | None,
    voices: tuple[int, ...],
    off: float | None,
    behind: float | None,
) -> Together:
    against = None if off is None else off - (behind or 0.0)
    return Together(note.index, note.bar, note.off_ms - (offset or 0.0), voices, against)


# Entries


def _entries(plan: Plan, heard: Sequence[HeardAmong], offset: float) -> tuple[Entry, ...]:
    passage = plan.exercise.passage
    found = {note.index: note.off_ms - offset for note in heard}
    bars, end = passage.bars, Fraction(0)
    made: list[Entry] = []
    for index, note in enumerate(passage.notes):
        number = bar_index(bars, note.start_beats)
        rest = note.start_beats - end
        why = _why(plan, index, rest, bars[number].pulse_beats)
        if why:
            bar = passage.first_bar + number
            made.append(Entry(index, bar, why, rest, found.get(index)))
        end = note.end_beats
    return tuple(made)


def _why(plan: Plan, index: int, rest: Fraction, pulse: Fraction) -> str:
    notes, warp = plan.exercise.passage.notes, plan.exercise.warp
    if index == 0:
        return "start"
    if rest >= pulse:
        return "rest"
    before, here = notes[index - 1].start_beats, notes[index].start_beats
    held = warp is not None and any(before <= beat < here for beat, _ in warp.holds)
    return "fermata" if held else ""


# Releases


def _releases(
    plan: Plan,
    ensemble: Ensemble,
    heard: Sequence[HeardAmong],
    played: Mapping[int, Sequence[int]],
    ends: Mapping[int, int],
    offset: float,
) -> Iterable[Release]:
    known = {note.index for note in heard} & set(ends)
    for cutoff in cutoffs(plan):
        if cutoff.index in known:
            yield _release(plan, ensemble, cutoff, played, ends[cutoff.index], offset)


def _release(
    plan: Plan,
    ensemble: Ensemble,
    cutoff: Cutoff,
    played: Mapping[int, Sequence[int]],
    end_frame: int,
    offset: float,
) -> Release:
    written = frame_of(plan.exercise, plan.rate, plan.downbeat_frame, cutoff.beats)
    late = (end_frame - written) * 1000 / plan.rate - offset
    voices = stops_at(ensemble, cutoff.beats)
    # Who is sounded keeps to the written end, and that is one beat for all of them.
    sounded = any(voice not in played for voice in voices)
    against = late if sounded else None
    return Release(cutoff.index, cutoff.bar, cutoff.before, cutoff.pulses, late, voices, against)


# Pitch


def _pitches(heard: Sequence[HeardAmong], ensemble: Ensemble) -> Iterable[ChordPitch]:
    for note, chord in zip(heard, chords(ensemble, (n.beats for n in heard)), strict=True):
        played = note.attack.pitch
        if note.attack.fine and played is not None:
            found = against_chord(note.index, note.bar, note.pitch, played, chord)
            if found is not None:
                yield found


# Evenness


def _runs(plan: Plan, heard: Sequence[HeardAmong]) -> Iterable[Evenness]:
    passage = plan.exercise.passage
    by_index = {note.index: note for note in heard}
    for run in _equal(passage.notes):
        mine = [by_index.get(k) for k in run]
        ratios = [
            (b.attack.frame - a.attack.frame) / (b.due_frame - a.due_frame)
            for a, b in pairwise(mine)
            if a is not None and b is not None
        ]
        if len(ratios) >= FEWEST_INTERVALS and fmean(ratios) > 0:
            inside = [note for note in mine if note is not None]
            yield Evenness(
                run[0],
                run[-1],
                inside[0].bar,
                inside[-1].bar,
                passage.notes[run[0]].length_beats,
                len(ratios),
                pstdev(ratios) / fmean(ratios),
            )


def _equal(notes: Sequence[Note]) -> list[list[int]]:
    """Indices of notes in a row, of one length and each beginning where the one before ends."""
    runs: list[list[int]] = []
    for index, note in enumerate(notes):
        before = notes[index - 1] if index else None
        if (
            before is not None
            and before.end_beats == note.start_beats
            and before.length_beats == note.length_beats
        ):
            runs[-1].append(index)
        else:
            runs.append([index])
    return runs
