"""Takes under odd conditions: another recorder, another tuning, a player off the click or one who
breaks off and starts again.  The truth follows every change.

`pair` makes a take twice, plain and changed, from one seed; `CONDITIONS` names the changes.  What
the player does differently is cut out of a dry take before it goes into its room; what the recorder
does comes after the room.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tests.bed.recorder import at_rate, banded, clipped, compressed, humming
from tests.bed.room import recorded
from tests.bed.splice import resampled
from tests.bed.take import RATE, Take, Truth, timed

Floats = NDArray[np.float64]
Maker = Callable[..., Take]

LEAD_S, FADE_IN_S, FADE_OUT_S = 0.005, 0.003, 0.02
PAUSE_S = (0.5, 1.0)
BEAT_NOTES = 4
BREAKS = ("in place", "a beat later", "four notes again")
TUNING_CENTS, TUNING_PARTS = np.arange(-70, 71, 2), (1, 2, 3)


@dataclass(frozen=True, slots=True)
class Condition:
    """`recorder` changes the finished recording, `player` the dry take; `tempo` is the player's
    against the click's."""

    name: str
    recorder: Callable[[Take], Take] | None = None
    player: Callable[[np.random.Generator, Take], Take] | None = None
    tempo: float = 1.0


def pair(
    maker: Maker, seed: int, condition: Condition, *, room: str = "dry", **settings: Any
) -> tuple[Take, Take]:
    """(plain, changed) take of the same seed: `maker` (and its `settings`) makes it dry.  Off the
    click both have the same sound and differ in the expected times only."""
    notes_per_s = settings.pop("notes_per_s") * condition.tempo
    dry = maker(np.random.default_rng(seed), notes_per_s=notes_per_s, room="dry", **settings)
    plain = in_room(seed, dry, room)
    if condition.player is not None:
        dry = condition.player(np.random.default_rng(seed + 1), dry)
    made = against_click(in_room(seed, dry, room), condition.tempo)
    return plain, made if condition.recorder is None else condition.recorder(made)


def in_room(seed: int, take: Take, room: str) -> Take:
    """The take in a room (tests/bed/room.py), the same one for the same seed."""
    rng = np.random.default_rng((seed, 7))
    return replace(take, samples=recorded(rng, take.samples.astype(np.float64), room))


def against_click(take: Take, tempo: float) -> Take:
    """Expected as by a click that the player is `tempo` times as fast as, from the first note."""
    if tempo == 1.0:
        return take
    start = take.onsets_s[0]
    notes = [
        note
        | {
            "onset_s": round(start + (note["onset_s"] - start) * tempo, 6),
            "duration_s": round(note["duration_s"] * tempo, 6),
        }
        for note in take.expected["notes"]
    ]
    expected = take.expected | {"notes": notes}
    return replace(take, expected=expected, truth=timed(_untimed(take.truth), expected))


def _untimed(truth: Sequence[Truth]) -> list[Truth]:
    """The truth without the verdicts and doubts of timing, for `timed` to give anew."""
    also = {"clean", "early", "late"}
    return [
        replace(
            t,
            kind="clean" if t.kind in also else t.kind,
            also=tuple(kind for kind in t.also if kind not in also),
        )
        for t in truth
    ]


def broken_off(rng: np.random.Generator, take: Take, how: str) -> Take:
    """The player stops in the middle for 0.5 to 1 s and goes on, one of `BREAKS`: in place with the
    click, the notes between left out; from the note broken off, whole beats of four notes later; or
    by playing the last four notes once more, so that what follows is whole beats later."""
    onsets = take.onsets_s
    interval_s = min(b - a for a, b in itertools.pairwise(onsets))
    beat_s = BEAT_NOTES * interval_s
    if how == "in place":
        resume = _tongued(rng, take, 0)
        from_s = _attack(take, resume) - rng.uniform(*PAUSE_S)
        stop = next(k for k in range(1, resume + 1) if _attack(take, k) >= from_s)
        return _resumed(take, stop, resume, 0.0)
    if how == "a beat later":
        stop = _tongued(rng, take, 0)
        return _resumed(take, stop, stop, beat_s * math.ceil(PAUSE_S[0] / beat_s))
    if how != "four notes again":
        raise ValueError(f"there is no break {how!r}")
    resume = _tongued(rng, take, BEAT_NOTES)
    stop = resume + BEAT_NOTES
    again_s = _attack(take, stop) - _attack(take, resume)
    return _resumed(take, stop, resume, beat_s * math.ceil((again_s + PAUSE_S[0]) / beat_s))


def _attack(take: Take, index: int) -> float:
    at = take.truth[index].attack_s
    if at is None:
        raise ValueError(f"note {index} of {take.name} was not played")
    return at


def _tongued(rng: np.random.Generator, take: Take, before: int) -> int:
    """A tongued note to start again from; the player broke off `before` notes after it, somewhat
    after the middle, so that most notes are as expected."""
    count = len(take.truth)
    for low, high in ((0.55, 0.75), (0.4, 0.85), (0.2, 0.95)):
        places = range(round(low * count) - before, round(high * count) - before)
        found = [k for k in places if 2 <= k < count - before and not take.truth[k].slurred]
        if found:
            return int(rng.choice(found))
    raise ValueError(f"{take.name} has no tongued note to start again from")


def _resumed(take: Take, stop: int, resume: int, shift_s: float) -> Take:
    """Silence from note `stop` on, then the take from note `resume`, moved by `shift_s`."""
    shift = round(shift_s * RATE)
    cut, start = (round((_attack(take, k) - LEAD_S) * RATE) for k in (stop, resume))
    head, tail = take.samples[:cut].copy(), take.samples[start:].copy()
    fade_out, fade_in = (round(s * RATE) for s in (FADE_OUT_S, FADE_IN_S))
    head[-fade_out:] *= np.linspace(1, 0, fade_out, dtype=np.float32)
    tail[:fade_in] *= np.linspace(0, 1, fade_in, dtype=np.float32)
    pause = np.zeros(start + shift - cut, np.float32)
    moved = shift / RATE
    truth = [_after_break(t, stop, resume, moved) for t in _untimed(take.truth)]
    extras = [at for at in take.extras if at < cut / RATE]
    extras += [_attack(take, k) + moved for k in range(resume, stop)]
    extras += [at + moved for at in take.extras if at >= start / RATE]
    return replace(
        take,
        samples=np.concatenate([head, pause, tail]),
        truth=timed(truth, take.expected),
        extras=tuple(extras),
    )


def _after_break(truth: Truth, stop: int, resume: int, shift_s: float) -> Truth:
    if truth.index < stop or truth.attack_s is None:
        return truth
    if truth.index < resume:
        return replace(truth, attack_s=None, kind="missed", lag_ms=None, also=())
    return replace(truth, attack_s=truth.attack_s + shift_s)


def retuned(take: Take, cents: float) -> Take:
    """The whole take `cents` off 440 Hz, by playing it faster or slower: all times follow, and the
    player stays as far from the click, the expected pitches as they were."""
    ratio = 2 ** ((cents - tuning_of(take)) / 1200)
    made = resampled(take.samples, 0.0, ratio, int(len(take.samples) / ratio))
    notes = [
        note | {key: round(note[key] / ratio, 6) for key in ("onset_s", "duration_s")}
        for note in take.expected["notes"]
    ]
    truth = [
        t if t.attack_s is None else replace(t, attack_s=t.attack_s / ratio)
        for t in _untimed(take.truth)
    ]
    expected = take.expected | {"notes": notes}
    return replace(
        take,
        samples=made.astype(np.float32),
        expected=expected,
        truth=timed(truth, expected),
        extras=tuple(at / ratio for at in take.extras),
    )


def tuning_of(take: Take) -> float:
    """The take's tuning in cents, within 70: where the first partials of all notes are strongest,
    each note compared with itself."""
    played = [t for t in take.truth if t.attack_s is not None]
    ends = [t.attack_s or 0.0 for t in played[1:]] + [len(take.samples) / take.rate]
    total = np.zeros(len(TUNING_CENTS))
    for note, end_s in zip(played, ends, strict=True):
        low = round(((note.attack_s or 0.0) + 0.02) * take.rate)
        part = take.samples[low : round(min(end_s, low / take.rate + 0.3) * take.rate)]
        part = part * np.hanning(len(part))
        power = sum(_powers(part, note.midi, partial, take.rate) for partial in TUNING_PARTS)
        total += power / max(1e-12, float(np.max(power)))
    return float(TUNING_CENTS[np.argmax(total)])


def _powers(part: Floats, midi: int, partial: int, rate: int) -> Floats:
    hz = partial * 440 * 2 ** ((midi - 69 + TUNING_CENTS / 100) / 12)
    waves = np.exp(-2j * np.pi / rate * np.outer(hz, np.arange(len(part))))
    return np.asarray(np.abs(waves @ part) ** 2)


def _player(how: str) -> Callable[[np.random.Generator, Take], Take]:
    return partial(broken_off, how=how)


CONDITIONS: dict[str, Condition] = {
    c.name: c
    for c in (
        Condition("plain"),
        Condition("gain, 5 ms", partial(compressed, attack_s=0.005, release_s=0.3)),
        Condition("gain, 20 ms", partial(compressed, attack_s=0.02, release_s=0.3)),
        Condition("gain, slow", partial(compressed, attack_s=0.3, release_s=2.0)),
        Condition("telephone band", partial(banded, through=8_000, rate=16_000)),
        Condition("8 kHz band", partial(banded, through=16_000, rate=RATE)),
        *(
            Condition(f"{rate} Hz", partial(at_rate, rate=rate))
            for rate in (16_000, 22_050, 32_000, 48_000, 96_000)
        ),
        Condition("1 % clipped", partial(clipped, share=0.01)),
        Condition("5 % clipped", partial(clipped, share=0.05)),
        Condition("hum and DC", humming),
        Condition("50 cents sharp", partial(retuned, cents=50.0)),
        Condition("50 cents flat", partial(retuned, cents=-50.0)),
        Condition("tempo 0.70", tempo=0.70),
        Condition("tempo 0.77", tempo=1 / 1.3),
        Condition("tempo 0.90", tempo=0.90),
        Condition("tempo 1.20", tempo=1.20),
        *(Condition(f"on again {how}", player=_player(how)) for how in BREAKS),
    )
}
