"""An exercise: one passage at one tempo with its click; a drill: what to play take after take."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from coach.core.gate import Gate
from coach.core.passage import Passage
from coach.core.warp import Warp

CLICK_SOUNDS = ("wood", "bell", "tick")


@dataclass(frozen=True, slots=True)
class ClickStyle:
    """How the click sounds: count-in bars, clicks inside a beat, loudness, and bars it rests.

    `sound` is one of `CLICK_SOUNDS`; `level_db` is relative to full scale.  With `off_bars` =
    (2, 1) the click sounds for two bars and is silent for one, over and over, to test the player's
    inner time; (0, 1): it sounds in the count-in only.
    """

    sound: str = "wood"
    count_in_bars: int = 1
    subdivision: int = 1
    level_db: float = -12.0
    accent: bool = True
    off_bars: tuple[int, int] | None = None


@dataclass(frozen=True, slots=True)
class Exercise:
    """A passage to be played once at `tempo_bpm` clicks a minute.

    `transposition` turns written into sounding pitch (horn in F: -7) and is for display only;
    `warp` is how the tempo changes on the way (None: it does not).
    """

    passage: Passage
    tempo_bpm: float
    transposition: int = 0
    click: ClickStyle = field(default_factory=ClickStyle)
    warp: Warp | None = None

    def at(self, tempo_bpm: float) -> Exercise:
        return replace(self, tempo_bpm=tempo_bpm)


@dataclass(frozen=True, slots=True)
class Drill:
    """What a drill file says: variants played in turn, tempi, the gate and the click.

    `rest_beats` is the pause between takes in clicks; `rules` names a set of configs/rules.toml;
    `warp` is how the tempo changes on the way.
    """

    name: str
    title: str
    about: str
    variants: tuple[Passage, ...]
    from_bpm: float = 60.0
    to_bpm: float = 120.0
    instrument: str = "double-horn"
    rules: str = "normal"
    rest_beats: int = 8
    gate: Gate = field(default_factory=Gate)
    click: ClickStyle = field(default_factory=ClickStyle)
    cautions: tuple[str, ...] = ()
    warp: Warp | None = None
