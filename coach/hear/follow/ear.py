"""The ear that follows the score: chunks in, evidence out, as the session and the judge know it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from coach.core.take import Attack, Chunk, Evidence, Gap
from coach.core.timeline import Click, Due
from coach.hear.clicks import ClickRemover
from coach.hear.follow.bank import Bank
from coach.hear.follow.follower import Follower
from coach.hear.follow.frames import RATE, Samples
from coach.hear.follow.intonation import HeardPitch, Intonation
from coach.hear.follow.measure import level_and_rise
from coach.hear.follow.patch import REACH
from coach.hear.follow.paths import Found
from coach.hear.levels import overdriven
from coach.hear.resample import Resampler
from coach.hear.whole import whole

LONGEST_LOOK = int(0.4 * RATE)
SPLIT_MS = 30
SPLIT_ABOVE = 0.5


@dataclass(frozen=True, slots=True)
class _Open:
    """A note that was found and can still be measured better; frames at the working rate."""

    found: Found
    attack: Attack
    until_frame: int | None


class FollowEar:
    """Hears the `dues` (frames at `rate`, as the chunks count) in sound at `rate`.  `heard` is
    given what it listens to, the clicks taken out: frame, float32 (n,)."""

    def __init__(
        self,
        dues: Sequence[Due],
        rate: int,
        *,
        clicks: Sequence[Click] = (),
        learn_until_frame: int = 0,
        heard: Callable[[int, Samples], None] | None = None,
    ) -> None:
        self.rate = rate
        self.clipped = False
        self._heard, self._heard_frame = heard, 0
        self._given = tuple(dues)
        self._bank = Bank({due.pitch for due in dues})
        self._resampler = Resampler(rate, RATE)
        self._origin: int | None = None
        self._end_frame = 0
        self._follower: Follower | None = None
        self._open: _Open | None = None
        self._shown: set[int] = set()
        self._intonation = Intonation()
        self._pitches: list[tuple[Attack, HeardPitch]] = []
        self._remover = _remover(clicks, rate, learn_until_frame)
        self._masked = 0

    def feed(self, chunk: Chunk) -> Evidence:
        """Evidence that this chunk settles."""
        if chunk.samples is None:
            return Evidence(up_to_frame=chunk.end_frame, resolved=0)
        samples = np.ascontiguousarray(chunk.samples, dtype=np.float32)
        if self._origin is None:
            self._begin(chunk.frame)
        self._end_frame = chunk.end_frame
        samples, lost = whole(chunk.frame, samples, self.rate)
        self.clipped = self.clipped or overdriven(samples)
        if self._remover is not None:
            samples = self._remover.feed(chunk.frame, samples)[1]
        self._pass_on(samples)
        gaps = (*chunk.gaps, *lost, *self._newly_masked())
        return replace(self._listened(samples), gaps=gaps)

    def _pass_on(self, samples: Samples) -> None:
        if self._heard is not None:
            self._heard(self._heard_frame, samples)
        self._heard_frame += len(samples)

    def _listened(self, samples: Samples) -> Evidence:
        """Evidence from more sound, in small pieces: the bank remembers a few seconds only."""
        attacks: list[Attack] = []
        refined: list[Attack] = []
        evidence = self._evidence()
        for start in range(0, len(samples), max(1, self.rate // 2)):
            piece = samples[start : start + self.rate // 2]
            self._bank.feed(self._resampler.feed(piece))
            evidence = self._evidence()
            attacks += evidence.attacks
            refined += evidence.refined
        return replace(
            evidence, attacks=tuple(attacks), refined=tuple(refined), glimpsed=self._glimpsed()
        )

    def _glimpsed(self) -> Attack | None:
        """A note that begins to show, once."""
        assert self._follower is not None
        seen = self._follower.glimpse()
        if seen is None or seen.index in self._shown:
            return None
        self._shown.add(seen.index)
        frame = self._native(seen.frame)
        return Attack(frame, None, confidence=round(seen.sure, 3), due=seen.index)

    def _newly_masked(self) -> tuple[Gap, ...]:
        """Stretches that a click has covered since the last time."""
        if self._remover is None:
            return ()
        gaps = tuple(self._remover.masked[self._masked :])
        self._masked += len(gaps)
        return gaps

    def finish(self) -> Evidence:
        """What is left, as if silence followed."""
        if self._origin is None:
            self._begin(0)
        rest = [np.zeros(int(1.2 * self.rate), np.float32)]
        if self._remover is not None:
            rest.insert(0, self._remover.finish()[1])
            self._pass_on(rest[0])
        evidence = self._listened(np.concatenate(rest))
        refined = (*evidence.refined, *self._refined(None))
        refined = (*refined, *self._retuned())
        return replace(
            evidence, gaps=self._newly_masked(), refined=refined, resolved=len(self._given)
        )

    def _retuned(self) -> list[Attack]:
        """Notes whose pitch reads otherwise by the tuning that is known at the end."""
        changed = []
        for attack, heard in self._pitches:
            pitch, fine = self._intonation.pitch(heard)
            if (pitch, fine) != (attack.pitch, attack.fine):
                changed.append(replace(attack, pitch=pitch, fine=fine))
        return changed

    def _begin(self, frame: int) -> None:
        self._origin = self._heard_frame = frame
        scale = RATE / self.rate
        dues = [
            replace(
                due,
                frame=round((due.frame - frame) * scale),
                length_frames=max(1, round(due.length_frames * scale)),
            )
            for due in self._given
        ]
        self._follower = Follower(dues, self._bank)

    def _evidence(self) -> Evidence:
        assert self._follower is not None
        attacks: list[Attack] = []
        refined: list[Attack] = []
        while True:
            if self._open and self._open.until_frame is not None:
                refined += self._refined(None)
            found = self._follower.settle_next()
            if found is None:
                break
            refined += self._refined(found.frame or found.low_frame)
            attacks += self._extra()
            attack = self._attack_of(found)
            if attack is not None:
                attacks.append(attack)
                self._open = _Open(found, attack, self._safe_until(found))
        return Evidence(
            tuple(attacks),
            up_to_frame=self._end_frame,
            resolved=self._follower.resolved,
            refined=tuple(refined),
        )

    def _native(self, frame: float) -> int:
        return round(frame * self.rate / RATE) + (self._origin or 0)

    def _extra(self) -> list[Attack]:
        """Notes that nobody asked for, before the one settled last."""
        assert self._follower is not None
        extra = []
        while (between := self._follower.take_between()) is not None:
            start = round(between.frame)
            level_db, _ = level_and_rise(self._bank.part(start, start + REACH))
            pitch = between.pitch + self._follower.tuning
            extra.append(Attack(self._native(start), pitch, level_db))
        return extra

    def _attack_of(self, found: Found) -> Attack | None:
        if found.frame is None:
            return None
        start = round(found.frame)
        level_db, rise = level_and_rise(self._bank.part(start, start + REACH))
        lag = self._lag(found.frame, found.takeover_frame)
        return Attack(
            self._native(found.frame),
            self._pitch_of(found),
            level_db,
            round(rise * self.rate / RATE),
            SPLIT_MS * self.rate // 1000 if found.split > SPLIT_ABOVE else 0,
            lag,
            # Rounded: the last digits of a sum depend on how many hops were summed at once.
            confidence=round(found.sure, 3),
            due=found.index,
            muffled=round(found.muffled, 3),
        )

    def _lag(self, frame: float, takeover_frame: float | None) -> int | None:
        if takeover_frame is None:
            return None
        return round((takeover_frame - frame) * self.rate / RATE)

    def _pitch_of(self, found: Found) -> float | None:
        assert self._follower is not None
        if found.pitch_offset is None:
            return None
        return self._given[found.index].pitch + found.pitch_offset + self._follower.tuning

    def _safe_until(self, found: Found) -> int | None:
        """Where measuring may end before the next note is known: None if that may come sooner."""
        assert self._follower is not None
        assert found.frame is not None
        until = round(found.frame) + LONGEST_LOOK
        return until if self._follower.earliest_next() >= until else None

    def _refined(self, next_frame: float | None) -> list[Attack]:
        """The open note measured over its whole length (0.4 s at most), and closed."""
        if self._open is None:
            return []
        if self._open.until_frame is not None and self._bank.end_frame < self._open.until_frame:
            return []
        opened, self._open = self._open, None
        found = opened.found
        assert self._follower is not None
        assert found.frame is not None
        start = round(found.frame)
        end = (
            start + LONGEST_LOOK
            if next_frame is None
            else min(start + LONGEST_LOOK, int(next_frame))
        )
        sound = self._bank.part(start, end)
        level_db, rise = level_and_rise(sound[: max(REACH // 2, len(sound))])
        measured = replace(
            self._with_pitch(opened, sound),
            level_db=level_db,
            rise_frames=round(rise * self.rate / RATE),
            lag_frames=self._lag(found.frame, self._follower.takeover_again(found)),
        )
        if self._pitches and self._pitches[-1][0] is opened.attack:
            self._pitches[-1] = measured, self._pitches[-1][1]
        return [measured]

    def _with_pitch(self, opened: _Open, sound: Samples) -> Attack:
        """The attack with the pitch of the whole note; what it rests on is kept for the end."""
        found = opened.found
        if found.pitch_offset is None:
            return opened.attack
        assert self._follower is not None
        given = self._given[found.index].pitch
        heard = self._intonation.heard(given, found.pitch_offset, sound)
        self._follower.tuning = self._intonation.tuning
        pitch, fine = self._intonation.pitch(heard)
        self._pitches.append((opened.attack, heard))
        return replace(opened.attack, pitch=pitch, fine=fine)


def _remover(clicks: Sequence[Click], rate: int, learn_until_frame: int) -> ClickRemover | None:
    if not clicks:
        return None
    frames, kinds = [c.frame for c in clicks], [c.kind for c in clicks]
    return ClickRemover(frames, kinds, rate, learn_until_frame=learn_until_frame)
