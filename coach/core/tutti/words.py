"""What the player, and the section, are told: one sentence on what to do, then what was found."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from statistics import median

from coach.core.tutti.drift import Drift, Followed
from coach.core.tutti.fit import EnsembleFit, Entry, Evenness, Release
from coach.core.tutti.section import Lead, Section

# An entry off by more is told: the tolerance of the usual rules.
ENTRY_MS = 25.0
# Behind or ahead of the others all through by more is told; 20 ms of sound are 7 metres.
BEHIND_MS = 20.0
UNEVEN_CV = 0.08
CLOSE_MS, LOOSE_MS = 25.0, 40.0
MOST_ENTRIES = 3
# A release off by more is told: common practice, no source; more than 95 % of ends are off by as
# measured in the worst room (`hear/bend`).
RELEASE_MS = 200.0
# A shorter note that ends early may be meant so: dots are not in the plan.
HELD_PULSES = 2
MOST_RELEASES = 2

_STEPS = (
    "root", "minor second", "major second", "minor third", "major third", "fourth",
    "augmented fourth", "fifth", "minor sixth", "major sixth", "minor seventh", "major seventh",
)  # fmt: skip


def fit_sentences(fit: EnsembleFit) -> tuple[str, ...]:
    """The first says what to do; none is judged that was not heard clearly enough."""
    if fit.offset_ms is None:
        return ("Play it again: none of your notes was heard well enough to tell how it fits.",)
    told = [sentences for one in _ASKED for sentences in one(fit)]
    if not told:
        return ("It fits: go on.", *_pitch_words(fit))
    return (told[0][0], *(found for _, found in told), *_pitch_words(fit))


# Each is (what to do, what was found).
Told = tuple[str, str]


def _changes(fit: EnsembleFit) -> list[Told]:
    return [_change(one) for one in fit.changes if one.clear]


def _change(one: Followed) -> Told:
    change = one.change
    slower = change.after < change.before
    name = ("ritardando" if slower else "accelerando") if change.gradual else "new tempo"
    side = "ahead" if one.growth_ms < 0 else "behind"
    by = f"{abs(one.growth_ms):.0f} ms {side} by bar {one.to_bar}"
    if one.kept > 0:
        do = f"Follow the {name} in bar {one.from_bar}: listen to the others there."
        return do, f"The {name} in bar {one.from_bar} is not followed: you are {by}."
    do = f"Do less in the {name} in bar {one.from_bar}: stay with the others."
    return do, f"The {name} in bar {one.from_bar} is overdone: you are {by}."


def _drifts(fit: EnsembleFit) -> list[Told]:
    return [_drift(one) for one in fit.drifts if one.clear]


def _drift(one: Drift) -> Told:
    rushes = one.ms_per_bar < 0
    do = "Hold back" if rushes else "Keep moving"
    what = "rush" if rushes else "drag"
    bar = f"from bar {one.from_bar} on"
    by = f"{abs(one.ms_per_bar):.0f} ms a bar"
    return f"{do} {bar}.", f"You {what} {by} {bar}, {abs(one.growth_ms):.0f} ms in all."


def _entries(fit: EnsembleFit) -> list[Told]:
    off = [(one, one.late_ms) for one in fit.entries if one.late_ms is not None]
    far = sorted((pair for pair in off if abs(pair[1]) > ENTRY_MS), key=lambda p: -abs(p[1]))
    return [_entry(*pair) for pair in far[:MOST_ENTRIES]]


def _entry(one: Entry, late_ms: float) -> Told:
    side = "late" if late_ms > 0 else "early"
    do = (
        f"Breathe a beat sooner before bar {one.bar}"
        if late_ms > 0
        else f"Count the rest out before bar {one.bar}"
    )
    where = {"start": "first entry", "rest": "entry", "fermata": "entry after the fermata"}
    return f"{do}.", f"The {where[one.after]} in bar {one.bar} is {abs(late_ms):.0f} ms {side}."


def _behind(fit: EnsembleFit) -> list[Told]:
    off = fit.offset_ms if fit.behind_ms is None else fit.behind_ms
    if off is None or abs(off) < BEHIND_MS:
        return []
    side, do = (
        ("behind", "Play to the front of the beat")
        if off > 0
        else ("ahead of", "Wait for the others")
    )
    return [(f"{do}.", f"You are {abs(off):.0f} ms {side} the others all through.")]


def _runs(fit: EnsembleFit) -> list[Told]:
    uneven = [run for run in fit.runs if run.cv > UNEVEN_CV]
    return [_run(max(uneven, key=lambda run: run.cv))] if uneven else []


def _run(run: Evenness) -> Told:
    where = f"bar {run.from_bar}" if run.from_bar == run.to_bar else (
        f"bars {run.from_bar}-{run.to_bar}"
    )  # fmt: skip
    do = f"Practise the run in {where} slowly and evenly."
    return do, f"The run in {where} is uneven: its intervals vary by {100 * run.cv:.0f} %."


def _releases(fit: EnsembleFit) -> list[Told]:
    far = sorted((one for one in fit.releases if _is_off(one)), key=lambda one: -abs(one.late_ms))
    return [_release(one) for one in far[:MOST_RELEASES]]


def _is_off(one: Release) -> bool:
    """A breath after a fermata is taken from its note."""
    if one.late_ms > 0:
        return one.late_ms > RELEASE_MS
    return one.late_ms < -RELEASE_MS and one.before != "fermata" and one.pulses >= HELD_PULSES


def _release(one: Release) -> Told:
    what = {
        "rest": f"the note before the rest in bar {one.bar}",
        "end": f"the last note of bar {one.bar}",
        "fermata": f"the note of the fermata in bar {one.bar}",
    }[one.before]
    late, others = one.late_ms > 0, one.against_ms is not None
    do = f"Hold {what} to the cut-off"
    if late:
        do = f"Stop {'with the others' if others else 'where it is written'} in bar {one.bar}"
    end = "the others stop" if others else "its written end"
    by = f"{abs(one.late_ms):.0f} ms {'after' if late else 'before'} {end}"
    return f"{do}.", f"{what[0].upper()}{what[1:]} ends {by}."


_ASKED: tuple[Callable[[EnsembleFit], list[Told]], ...] = (
    _changes, _drifts, _entries, _behind, _releases, _runs,
)  # fmt: skip


def _pitch_words(fit: EnsembleFit) -> list[str]:
    """Shown, not judged: where the thirds and fifths of the chords lie."""
    words = []
    for step in (3, 4, 7):
        mine = [one for one in fit.pitches if one.semitones == step]
        if mine:
            just = median(one.just_cents for one in mine)
            tempered = median(one.tempered_cents for one in mine)
            words.append(
                f"As the {_STEPS[step]} of the chord ({len(mine)} notes) you lie "
                f"{_whole(just)} cents from just, {_whole(tempered)} from tempered."
            )
    return words


def _whole(cents: float) -> str:
    """ "+16", "-4", "0"."""
    rounded = round(cents)
    return f"{rounded:+d}" if rounded else "0"


def step_name(semitones: int) -> str:
    """ "major third", of a step above the root."""
    return _STEPS[semitones % 12]


# The section


def section_sentences(section: Section) -> tuple[str, ...]:
    """The first says what to do."""
    if section.spread_ms is None:
        return ("Choose a passage in which two of you attack together: there was none to compare.",)
    leading = [one for one in section.standings if one.told]
    found = _stands(leading, section)
    if section.unplaced:
        found.append(f"Too few common attacks to place: {', '.join(section.unplaced)}.")
    return (_section_first(section, leading), _spread(section), *found, *_balance(section))


def _section_first(section: Section, leading: Sequence[Lead]) -> str:
    if leading:
        # Of two alike, the one who lags is spoken to.
        furthest = max(leading, key=lambda one: (round(abs(one.late_ms), 6), one.late_ms))
        if furthest.late_ms < 0:
            return f"{furthest.name}: wait for the others."
        return f"{furthest.name}: play to the front of the beat."
    assert section.spread_ms is not None
    if section.spread_ms > LOOSE_MS:
        return "Breathe together before each entry: nobody leads, but the attacks lie apart."
    return "You attack together: go on." if section.spread_ms <= CLOSE_MS else (
        "Listen across the section: the attacks could lie closer."
    )  # fmt: skip


def _spread(section: Section) -> str:
    return (
        f"First and last attack of a beat lie {section.spread_ms:.0f} ms apart (median of "
        f"{len(section.meetings)} common attacks)."
    )


def _stands(told: Sequence[Lead], section: Section) -> list[str]:
    """Of two, the one's lead is the other's lag: they are told against each other."""
    if len(section.standings) == 2 and told:
        first, second = sorted(section.standings, key=lambda one: one.late_ms)
        by, interval = 2 * abs(first.late_ms), _interval(first, 2)
        return [f"{first.name} is ahead of {second.name} by {by:.0f} ms ({interval})."]
    return [
        f"{one.name} {'leads' if one.late_ms < 0 else 'lags'} by {abs(one.late_ms):.0f} ms "
        f"({_interval(one, 1)})."
        for one in sorted(told, key=lambda one: one.late_ms)
    ]


def _interval(one: Lead, times: int) -> str:
    low, high = sorted((times * abs(one.low_ms), times * abs(one.high_ms)))
    return f"{low:.0f} to {high:.0f}"


def _balance(section: Section) -> list[str]:
    out = section.standing_out()
    if not out:
        return []
    meeting, player, level = max(out, key=lambda one: abs(one[2]))
    verb = "stands out of" if level > 0 else "drowns in"
    than = "" if section.one_scale else ", against how loud you each play otherwise"
    more = f", and {len(out) - 1} more like it" if len(out) > 1 else ""
    return [
        f"{section.players[player]} {verb} the chord in bar {meeting.bar} by "
        f"{abs(level):.0f} dB{than}{more}."
    ]
