"""How loud each voice of the ensemble is, and how far left or right: what the keys do, as pure
steps from mix to mix."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from fractions import Fraction

from coach.core.tutti.ensemble import Ensemble, Voice

STEP_DB = 3.0
# One key pressed over and over neither deafens nor loses a voice for good.
LOUDEST_DB, SOFTEST_DB = 6.0, -40.0
# Four steps from the middle to either end, each of them exact.
STEP_PAN = 0.25


@dataclass(frozen=True, slots=True)
class Mix:
    """One level in dB for each voice, in the order of the score; `muted` and `solo` are numbers of
    voices, `chosen` is the one that the keys change.  While any voice is solo only those sound,
    muted or not.  `pans` are their places from -1, left, to +1, right; none: all in the middle."""

    levels_db: tuple[float, ...]
    muted: frozenset[int] = frozenset()
    solo: frozenset[int] = frozenset()
    chosen: int = 0
    pans: tuple[float, ...] = ()

    def sounds(self, voice: int) -> bool:
        return voice in self.solo if self.solo else voice not in self.muted

    def gain(self, voice: int) -> float:
        """What the samples of a voice are multiplied with; 0 where it does not sound."""
        return float(10 ** (self.levels_db[voice] / 20)) if self.sounds(voice) else 0.0

    @property
    def wide(self) -> bool:
        """Whether any voice is out of the middle."""
        return any(self.pans)

    def pan(self, voice: int) -> float:
        return self.pans[voice] if self.pans else 0.0

    def sides(self, voice: int) -> tuple[float, float]:
        """What a voice is multiplied with left and right: (1, 1) in the middle, (0, sqrt 2) at the
        right end.  The squares always add up to 2, so that it is as loud everywhere: constant power
        by sine and cosine, as the default pan formula of the MIDI makers (RP-036) has it, here 3 dB
        up."""
        # 2 cos^2 x is 1 + cos 2x: in this form the middle and the ends are exact.
        lean = math.sin(math.pi / 2 * self.pan(voice))
        return math.sqrt(1 - lean), math.sqrt(1 + lean)


def first_mix(ensemble: Ensemble, own_db: float | None = None) -> Mix:
    """All others as loud as each other; the player's own line silent, or at `own_db`."""
    levels = [0.0] * len(ensemble.voices)
    if own_db is not None:
        levels[ensemble.own] = _within(own_db)
    muted = frozenset({ensemble.own}) if own_db is None else frozenset[int]()
    return Mix(tuple(levels), muted, chosen=min(ensemble.others, default=ensemble.own))


def next_voice(mix: Mix) -> Mix:
    """Choose the voice below in the score; after the last comes the first."""
    return replace(mix, chosen=(mix.chosen + 1) % len(mix.levels_db))


def mute(mix: Mix) -> Mix:
    """The chosen voice silent, or no longer."""
    return replace(mix, muted=mix.muted ^ {mix.chosen})


def solo(mix: Mix) -> Mix:
    """The chosen voice alone (with others that are solo), or no longer."""
    return replace(mix, solo=mix.solo ^ {mix.chosen})


def louder(mix: Mix) -> Mix:
    return _moved(mix, STEP_DB)


def softer(mix: Mix) -> Mix:
    return _moved(mix, -STEP_DB)


def further_left(mix: Mix) -> Mix:
    return _panned(mix, -STEP_PAN)


def further_right(mix: Mix) -> Mix:
    return _panned(mix, STEP_PAN)


def everybody(mix: Mix) -> Mix:
    """No voice alone any more; levels, mutes and places stay."""
    return replace(mix, solo=frozenset())


def neighbours_only(mix: Mix, ensemble: Ensemble) -> Mix:
    """Only the parts printed next above and below the own that have notes here; as it was, if
    there are none."""
    above = [k for k in ensemble.others if k < ensemble.own and ensemble.voices[k].notes]
    below = [k for k in ensemble.others if k > ensemble.own and ensemble.voices[k].notes]
    return replace(mix, solo=frozenset([*above[-1:], *below[:1]]) or mix.solo)


def bass_alone(mix: Mix, ensemble: Ensemble) -> Mix:
    """Only the lowest of the other parts, by the mean pitch of what it sounds; as it was, if none
    has a note here."""
    playing = [k for k in ensemble.others if ensemble.voices[k].notes]
    if not playing:
        return mix
    # Of two parts as low as each other the one printed lower is the bass.
    lowest = min(playing, key=lambda k: (mean_pitch(ensemble.voices[k]), -k))
    return replace(mix, solo=frozenset({lowest}))


def commanded(mix: Mix, command: str, ensemble: Ensemble) -> Mix:
    """What a command of the keys makes of a mix: one of `COMMANDS`."""
    if command in _WITHIN:
        return _WITHIN[command](mix, ensemble)
    return _STEPS[command](mix)


_STEPS: dict[str, Callable[[Mix], Mix]] = {
    "voice": next_voice,
    "mute": mute,
    "solo": solo,
    "softer": softer,
    "louder": louder,
    "everybody": everybody,
    "left": further_left,
    "right": further_right,
}
_WITHIN: dict[str, Callable[[Mix, Ensemble], Mix]] = {
    "neighbours": neighbours_only,
    "bass": bass_alone,
}
COMMANDS = (*_STEPS, *_WITHIN)
SIDE_COMMANDS = ("left", "right")


def mean_pitch(voice: Voice) -> Fraction:
    """Mean MIDI number of a voice with notes, long notes counting for more."""
    total = sum((note.length_beats for note in voice.notes), Fraction(0))
    return sum((note.pitch * note.length_beats for note in voice.notes), Fraction(0)) / total


def _moved(mix: Mix, by_db: float) -> Mix:
    levels = list(mix.levels_db)
    levels[mix.chosen] = _within(levels[mix.chosen] + by_db)
    return replace(mix, levels_db=tuple(levels))


def _panned(mix: Mix, by: float) -> Mix:
    pans = list(mix.pans or (0.0,) * len(mix.levels_db))
    pans[mix.chosen] = min(1.0, max(-1.0, pans[mix.chosen] + by))
    return replace(mix, pans=tuple(pans) if any(pans) else ())


def _within(level_db: float) -> float:
    return min(LOUDEST_DB, max(SOFTEST_DB, level_db))
