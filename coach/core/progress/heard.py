"""Which notes are the trouble?  One passage note by note, over its last takes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median, quantiles

from coach.core.exercise import Exercise
from coach.core.findings import Judged
from coach.core.passage import Passage, bar_index
from coach.core.progress.dates import count_words
from coach.core.spelling import spelled
from coach.core.take import Verdict

MOST_TAKES = 10
# In the order in which they are drawn and told.
FAULTS = ("late", "early", "wrong", "split", "missed", "muffled")
# Trouble: at least two takes of any number, and at least three in ten, that were not clean.
LEAST_FAULTS, LEAST_SHARE = 2, 0.3
MOST_TROUBLES = 3


@dataclass(frozen=True, slots=True)
class NoteSeen:
    """One note over all takes: in `counted` of them it was judged, `faults` are how often it was
    what of `FAULTS`.

    `median_ms` is how late it came in the middle (early: negative), `low_ms` to `high_ms` hold the
    middle half of the takes; None where it was never heard on its pitch.
    """

    index: int
    name: str
    bar: int
    counted: int
    faults: tuple[tuple[str, int], ...]
    median_ms: float | None = None
    low_ms: float | None = None
    high_ms: float | None = None

    @property
    def fault_count(self) -> int:
        return sum(count for _, count in self.faults)

    @property
    def clean_share(self) -> float | None:
        return 1 - self.fault_count / self.counted if self.counted else None

    @property
    def worst(self) -> str:
        """Its most frequent fault, "" if it was always clean."""
        return max(self.faults, key=lambda fault: fault[1])[0] if self.faults else ""

    @property
    def is_trouble(self) -> bool:
        enough = self.fault_count >= min(LEAST_FAULTS, max(1, self.counted))
        return enough and self.fault_count >= LEAST_SHARE * self.counted


@dataclass(frozen=True, slots=True)
class HeardPassage:
    """A passage (sounding) as it was played in the last `takes` takes."""

    exercise: Exercise
    takes: int
    notes: tuple[NoteSeen, ...]

    @property
    def troubles(self) -> tuple[NoteSeen, ...]:
        """The worst notes first, at most `MOST_TROUBLES`; of equals the one furthest from its
        place."""
        found = [note for note in self.notes if note.is_trouble]
        worst = sorted(found, key=lambda n: (-n.fault_count / n.counted, -abs(n.median_ms or 0)))
        return tuple(worst[:MOST_TROUBLES])


def heard_of(takes: Sequence[Judged]) -> HeardPassage | None:
    """The passage that most of these takes (oldest first) were of, its last `MOST_TAKES` takes;
    None without takes.  Of passages played as often, the one played last."""
    same: dict[Passage, list[Judged]] = {}
    for take in reversed(takes):
        same.setdefault(take.exercise.passage, []).append(take)
    if not same:
        return None
    used = max(same.values(), key=len)[:MOST_TAKES]
    exercise = used[0].exercise
    names = spelled(exercise.passage, exercise.transposition)
    bars = exercise.passage.bars
    found: list[list[tuple[Verdict, float]]] = [[] for _ in exercise.passage.notes]
    for take in used:
        for verdict in take.report.verdicts:
            found[verdict.index].append((verdict, take.rate / 1000))
    notes = (
        _note(
            index,
            names[index].name,
            exercise.passage.first_bar + bar_index(bars, note.start_beats),
            found[index],
        )
        for index, note in enumerate(exercise.passage.notes)
    )
    return HeardPassage(exercise, len(used), tuple(notes))


def _note(index: int, name: str, bar: int, found: Sequence[tuple[Verdict, float]]) -> NoteSeen:
    judged = [(verdict, per_ms) for verdict, per_ms in found if verdict.kind != "unsure"]
    kinds = [verdict.kind for verdict, _ in judged]
    faults = tuple((kind, kinds.count(kind)) for kind in FAULTS if kind in kinds)
    seen = NoteSeen(index, name, bar, len(judged), faults)
    off_ms = [
        verdict.deviation_frames / per_ms
        for verdict, per_ms in judged
        if verdict.deviation_frames is not None and verdict.kind != "wrong"
    ]
    if not off_ms:
        return seen
    low, middle, high = _middle(off_ms)
    return NoteSeen(index, name, bar, seen.counted, faults, middle, low, high)


def _middle(values: Sequence[float]) -> tuple[float, float, float]:
    """Quartiles and median."""
    if len(values) == 1:
        return values[0], values[0], values[0]
    low, _, high = quantiles(values, n=4, method="inclusive")
    return low, median(values), high


def heard_words(heard: HeardPassage) -> str:
    """ "Note 7 (B♭4 in bar 2): late in 7 of 10 takes, as a rule by 31 ms."."""
    troubles = heard.troubles
    if heard.takes == 1:
        return _of_one_take(heard)
    if not troubles:
        return f"None: over the last {heard.takes} takes no note goes wrong again and again."
    worst, *others = troubles
    return f"{note_words(worst)}.{_others(others)}"


def _of_one_take(heard: HeardPassage) -> str:
    wrong = sum(note.fault_count for note in heard.notes)
    notes = f"{count_words(wrong)} note{'' if wrong == 1 else 's'}"
    return f"One take does not tell yet; in it, {notes} went wrong."


def note_words(note: NoteSeen) -> str:
    """ "Note 7 (B♭4 in bar 2): late in 7, split in 1 of 10 takes, as a rule by 31 ms"."""
    told = [
        f"{fault_words(kind)} in {count}"
        for kind, count in sorted(note.faults, key=lambda f: -f[1])
    ]
    off = ""
    often = 2 * dict(note.faults).get(note.worst, 0) >= note.counted
    if note.worst in ("late", "early") and often and note.median_ms is not None:
        off = f", as a rule by {abs(note.median_ms):.0f} ms"
    place = f"Note {note.index + 1} ({printed(note.name)} in bar {note.bar})"
    return f"{place}: {', '.join(told)} of {note.counted} takes{off}"


def fault_words(kind: str) -> str:
    """ "wrong pitch" for "wrong"; the other verdicts speak for themselves."""
    return "wrong pitch" if kind == "wrong" else kind


def _others(notes: Sequence[NoteSeen]) -> str:
    if not notes:
        return ""
    named = " and ".join(
        f"{n.index + 1} ({printed(n.name)}, {fault_words(n.worst)})" for n in notes
    )
    return f" After it note{'s' if len(notes) > 1 else ''} {named}."


def printed(name: str) -> str:
    """A note name as it is printed: "B♭4"."""
    return name[0] + name[1:].replace("#", "♯").replace("b", "♭")
