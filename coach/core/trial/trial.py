"""A trial of two ways of playing the same notes: pure state, one value after each take."""

from __future__ import annotations

from dataclasses import dataclass, replace
from statistics import fmean
from typing import Literal

from coach.core.trial.order import TrialTurn, Way, next_tempo_bpm, next_turn
from coach.core.trial.sequential import Difference, Sequential, Spending, stabilised
from coach.core.trial.settings import TrialSettings

End = Literal["", "clear", "even", "limit", "tired", "unheard"]
STOPPED: dict[End, str] = {
    "": "",
    "clear": "One way is plainly cleaner: no need to go on.",
    "even": "No difference that matters: no need to go on.",
    "limit": "That is as many runs as a trial takes.",
    "tired": "Both ways are less clean than they were: time for a rest.",
    "unheard": "I could not hear enough of the last takes to go on.",
}


@dataclass(frozen=True, slots=True)
class TrialTake:
    """One take that was heard well enough: `clean` of `counted` notes, "unsure" ones left out."""

    turn: TrialTurn
    clean: int
    counted: int
    spread_ms: float | None = None
    lag_ms: float | None = None

    @property
    def share(self) -> float:
        return self.clean / self.counted


@dataclass(frozen=True, slots=True)
class Pair:
    """Both ways, played one after the other at one tempo."""

    a: TrialTake
    b: TrialTake

    @property
    def tempo_bpm(self) -> float:
        return self.a.turn.tempo_bpm

    def of(self, way: Way) -> TrialTake:
        return self.a if way == "a" else self.b


@dataclass(frozen=True, slots=True)
class Trial:
    """Where a trial stands.  `begin` makes the first one, `after` the next; nothing changes in
    place.  `notes` is what a take expects, `unheard` the takes running that could not be judged."""

    settings: TrialSettings
    seed: int
    notes: int
    first_bpm: float
    tempo_bpm: float
    test: Sequential
    pairs: tuple[Pair, ...] = ()
    open_take: TrialTake | None = None
    unheard: int = 0

    @property
    def ended(self) -> End:
        """Why the trial is over; "" while it goes on."""
        if self.unheard > self.settings.repeats:
            return "unheard"
        if self.open_take is not None:
            return ""
        if self.test.cleaner:
            return "clear"
        if self.test.even:
            return "even"
        if self.test.at_limit:
            return "limit"
        return "tired" if tired(self.pairs, self.settings, self.notes) else ""

    @property
    def stopped(self) -> str:
        """Why the trial is over, in the player's words; "" while it goes on."""
        return STOPPED[self.ended]

    def next(self) -> TrialTurn | None:
        """The take to play now; None when the trial is over."""
        if self.ended:
            return None
        played = int(self.open_take is not None)
        return next_turn(self.seed, len(self.pairs), played, self.tempo_bpm)

    def after(
        self,
        turn: TrialTurn,
        clean: int,
        counted: int,
        spread_ms: float | None = None,
        lag_ms: float | None = None,
    ) -> Trial:
        """The trial with one take more; ValueError unless it is the turn that `next` gave.

        `counted` are the notes that were judged, `clean` those of them that were clean.  Too few of
        them, and the same turn comes again.
        """
        if turn != self.next():
            raise ValueError("this is not the next turn")
        if not 0 <= clean <= counted <= self.notes:
            raise ValueError("clean notes must be among the counted, these among the notes")
        if counted < max(1.0, self.settings.heard_share * self.notes):
            return replace(self, unheard=self.unheard + 1)
        take = TrialTake(turn, clean, counted, spread_ms, lag_ms)
        if self.open_take is None:
            return replace(self, open_take=take, unheard=0)
        return self._with_pair(_paired(self.open_take, take))

    def _with_pair(self, pair: Pair) -> Trial:
        shares = (pair.a.share, pair.b.share)
        return replace(
            self,
            tempo_bpm=next_tempo_bpm(self.tempo_bpm, self.first_bpm, shares, self.settings),
            test=self.test.after(_difference(pair, self.settings)),
            pairs=(*self.pairs, pair),
            open_take=None,
            unheard=0,
        )


def begin(settings: TrialSettings, notes: int, tempo_bpm: float, seed: int) -> Trial:
    """A trial before its first take: `notes` expected in a take (at least 1), first at `tempo_bpm`
    (above 0); ValueError otherwise."""
    if notes < 1 or not tempo_bpm > 0:
        raise ValueError("a trial needs notes and a tempo above 0")
    most = settings.most_pairs(notes)
    differing = Spending(settings.false_share, settings.false_power, most)
    hidden = Spending(settings.hidden_share, settings.hidden_power, most)
    return Trial(settings, seed, notes, tempo_bpm, tempo_bpm, Sequential(differing, hidden))


def tired(pairs: tuple[Pair, ...], settings: TrialSettings, notes: int) -> bool:
    """Both ways have got plainly less clean than before, though the tempo has not gone up."""
    window = settings.tired_pairs(notes)
    last, before = pairs[-window:], pairs[:-window]
    if len(before) < window:
        return False
    faster = fmean(p.tempo_bpm for p in last) > fmean(p.tempo_bpm for p in before) + 1e-9
    ways: tuple[Way, Way] = ("a", "b")
    return not faster and all(
        share_of(before, way) - share_of(last, way) >= settings.tired_drop for way in ways
    )


def share_of(pairs: tuple[Pair, ...], way: Way) -> float:
    """The mean clean share of one way's takes."""
    return fmean(pair.of(way).share for pair in pairs)


def _paired(first: TrialTake, second: TrialTake) -> Pair:
    return Pair(first, second) if first.turn.way == "a" else Pair(second, first)


def _difference(pair: Pair, settings: TrialSettings) -> Difference:
    a, b = pair.a, pair.b
    counted = (a.counted + b.counted) / 2
    matters = stabilised(settings.cleaner_share * counted, counted) - stabilised(
        settings.less_clean_share * counted, counted
    )
    return Difference(stabilised(a.clean, a.counted) - stabilised(b.clean, b.counted), matters)
