"""The judge: attacks beside dues, sealed one by one.

`Judge` is one fold over evidence.  A note is sealed when its late window has passed (or, for an ear
that follows the score, when the ear has settled it), using only attacks inside the window, so the
verdicts do not depend on how the sound was cut into blocks, and judging live and judging a stored
take are the same thing.  While the take runs a verdict rests on the notes so far; `report` judges
every note again with what the whole take tells (offset, tuning, level).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from statistics import median

from coach.core.report import Report, report_of
from coach.core.rules import Rules, window_frames
from coach.core.take import Attack, Evidence, Gap, Match, Take, Verdict
from coach.core.timeline import Due
from coach.core.verdicts import Context, context_of, intervals_frames, verdict_of

RECENT = 4
PRIOR_WEIGHT = 3
LONGEST_JOIN_MS = 60


class Judge:
    """Judges one take of `dues` at `rate` frames a second.

    `prior_offset_frames` is the player's offset in the take before: the first notes of a take are
    judged against it until enough of its own are known.  Attacks before `listen_from_frame` are not
    counted as extra.
    """

    def __init__(
        self,
        dues: Sequence[Due],
        rules: Rules,
        rate: int,
        *,
        prior_offset_frames: float = 0.0,
        listen_from_frame: int | None = None,
    ) -> None:
        self.dues = tuple(dues)
        self.rules = rules
        self.rate = rate
        self._intervals = intervals_frames(
            [d.frame for d in self.dues], [d.length_frames for d in self.dues]
        )
        self._prior = (prior_offset_frames,) * PRIOR_WEIGHT
        self._listen_from_frame = listen_from_frame
        self._pool: list[Attack] = []
        self._heard: list[Attack] = []
        self._gaps: list[Gap] = []
        self._matches: list[Match] = []
        self._live: list[Verdict] = []
        self._context = Context(prior_offset_frames, prior_offset_frames)

    @property
    def finished(self) -> bool:
        return len(self._matches) == len(self.dues)

    @property
    def heard(self) -> tuple[Attack, ...]:
        return tuple(self._heard)

    @property
    def gaps(self) -> tuple[Gap, ...]:
        return tuple(self._gaps)

    def step(self, evidence: Evidence) -> list[Verdict]:
        """Take in evidence; return the verdicts sealed by it, in order."""
        self._heard.extend(evidence.attacks)
        self._pool.extend(evidence.attacks)
        self._gaps.extend(evidence.gaps)
        sealed: list[Verdict] = []
        while not self.finished and self._is_over(evidence):
            sealed.append(self._seal(follows=evidence.resolved is not None))
        for attack in evidence.refined:
            self._refine(attack)
        return sealed

    def finish(self, *, follows: bool = False) -> list[Verdict]:
        """Seal what is left: nothing more will be heard."""
        return [self._seal(follows=follows) for _ in range(len(self.dues) - len(self._matches))]

    def report(self) -> Report:
        """The whole take, judged with everything known."""
        context = context_of(self._matches, self.rules, self.rate)
        verdicts = [
            verdict_of(k, self._matches, self._intervals[k], context, self.rules, self.rate)
            for k in range(len(self._matches))
        ]
        extra = [a for a in self._pool if self._counts(a)]
        return report_of(verdicts, extra, self._gaps, context, self.rules, self.rate)

    def _refine(self, attack: Attack) -> None:
        """Put a better measurement in the place of the first; the sealed verdict stays as told."""
        self._heard = [attack if _same(a, attack) else a for a in self._heard]
        self._matches = [
            replace(m, attack=attack) if m.attack and _same(m.attack, attack) else m
            for m in self._matches
        ]

    def _counts(self, attack: Attack) -> bool:
        return self._listen_from_frame is None or attack.frame >= self._listen_from_frame

    def _is_over(self, evidence: Evidence) -> bool:
        if evidence.resolved is not None:
            return len(self._matches) < evidence.resolved
        centre, half = self._window(len(self._matches))
        return evidence.up_to_frame > centre + half

    def _window(self, index: int) -> tuple[float, float]:
        """Centre and half width in frames: around the player's offset, wider while drifting."""
        base = window_frames(self.rules, self._intervals[index], self.rate)
        offset = self._context.applied_offset_frames
        recent = [
            m.attack.frame - m.due.frame - offset for m in self._matches[-RECENT:] if m.attack
        ]
        drift = abs(median(recent)) if len(recent) == RECENT else 0.0
        return self.dues[index].frame + offset, base + min(drift, base)

    def _seal(self, *, follows: bool) -> Verdict:
        index = len(self._matches)
        due = self.dues[index]
        centre, half = self._window(index)
        attack = self._claimed(index) if follows else self._nearest(due, centre, half)
        if attack is not None:
            self._pool.remove(attack)
            attack = attack if follows else self._joined(attack, due, centre - half)
        self._matches.append(Match(due, attack, self._is_lost(attack, centre, half)))
        self._context = context_of(self._matches, self.rules, self.rate, self._prior)
        verdict = verdict_of(
            index, self._matches, self._intervals[index], self._context, self.rules, self.rate
        )
        self._live.append(verdict)
        return verdict

    def _claimed(self, index: int) -> Attack | None:
        return next((a for a in self._pool if a.due == index), None)

    def _nearest(self, due: Due, centre: float, half: float) -> Attack | None:
        """The attack in the window that fits best: right pitch first, then the nearest."""
        inside = [a for a in self._pool if abs(a.frame - centre) <= half]
        return min(
            inside,
            key=lambda a: (self._mismatch(a, due), abs(a.frame - centre), a.frame),
            default=None,
        )

    def _mismatch(self, attack: Attack, due: Due) -> int:
        if attack.pitch is None:
            return 1
        off = 100 * (attack.pitch - due.pitch) - self._context.tuning_cents
        return 0 if abs(off) <= self.rules.pitch_cents else 2

    def _joined(self, attack: Attack, due: Due, from_frame: float) -> Attack:
        """A right note that followed a wrong one inside the window is one note that was split."""
        if self._mismatch(attack, due) != 0:
            return attack
        from_frame = max(from_frame, attack.frame - LONGEST_JOIN_MS * self.rate / 1000)
        before = [a for a in self._pool if from_frame <= a.frame < attack.frame]
        wrong = [a for a in before if self._mismatch(a, due) == 2]
        if not wrong:
            return attack
        first = wrong[0]
        self._pool = [a for a in self._pool if a not in wrong]
        settle = attack.frame - first.frame + attack.settle_frames
        return replace(attack, frame=first.frame, settle_frames=settle)

    def _is_lost(self, attack: Attack | None, centre: float, half: float) -> bool:
        """Whether sound was lost where the attack was, or should have been."""
        if attack is not None:
            reach = 0.01 * self.rate
            low, high = attack.frame - reach, attack.frame + reach
        else:
            low, high = centre - half, centre + half
        return any(g.frame <= high and g.end_frame >= low for g in self._gaps)


def _same(one: Attack, other: Attack) -> bool:
    """Whether two measurements are of one note, heard by an ear that follows the score."""
    return one.due is not None and one.due == other.due


def judge_take(
    take: Take,
    rules: Rules,
    *,
    prior_offset_frames: float = 0.0,
    listen_from_frame: int | None = None,
) -> Report:
    """Judge a stored take: the same fold, fed everything at once."""
    judge = Judge(
        take.plan.dues,
        rules,
        take.plan.rate,
        prior_offset_frames=prior_offset_frames,
        listen_from_frame=listen_from_frame,
    )
    everything = Evidence(
        take.attacks,
        take.gaps,
        up_to_frame=take.plan.end_frame,
        resolved=len(take.plan.dues) if take.resolved else None,
    )
    judge.step(everything)
    judge.finish(follows=take.resolved)
    return judge.report()
