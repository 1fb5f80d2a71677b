"""Playing takes back: each made ready, sounded by a port, and shown note by note meanwhile."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from coach.core.playback import Slowed, begin_frame, heard_notes, whereabouts
from coach.core.report import Report
from coach.core.rules import Rules
from coach.core.sound import Sound
from coach.core.timeline import Plan
from coach.core.view import Pictures, View
from coach.errors import FileError
from coach.roles import Controls, Screen

if TYPE_CHECKING:
    from coach.files.takesound import TakeSounds
    from coach.ports.click import Samples

SPEEDS = (0.25, 0.5, 0.75, 1.0)
BETWEEN_S, AFTER_S, TONES_AFTER_S = 1.0, 0.2, 0.5
NOT_KEPT = "The sound of this take is not kept: its notes are sounded as they were heard."
STOPPED = "Stopped here: go plays on."
LOWEST_HZ = 30.0


@dataclass(frozen=True, slots=True)
class KeptTake:
    """One take made ready: as it was kept, judged by today's rules, its sound (None: it has none)
    without the coach's clicks, and what is to be said about that."""

    kept: Any
    report: Report
    sound: Sound | None
    title: str
    rules: Rules
    view: View
    notice: str


@dataclass(frozen=True, slots=True)
class Wish:
    """What is to be heard of a take: from a frame of it on, with or without the click."""

    piece: KeptTake
    from_frame: int
    clicks: bool


def piece_of(kept: Any, sounds: TakeSounds) -> KeptTake:
    """A take of the book with its sound."""
    from coach.cli.lately import drill_of, judged
    from coach.core.gate import start
    from coach.files.configs import load_rules

    (once_more,) = judged([kept])
    drill, _ = drill_of(kept)
    bpm = kept.take.plan.exercise.tempo_bpm
    plan = kept.take.plan
    view = View(
        drill.title, "playing", plan, 0, None, (), start(bpm, bpm), drill.gate, take=kept.id
    )
    sound, notice = _sound_of(kept, once_more.report, sounds)
    rules = load_rules(kept.rules)
    return KeptTake(kept, once_more.report, sound, drill.title, rules, view, notice)


def _sound_of(kept: Any, report: Report, sounds: TakeSounds) -> tuple[Sound | None, str]:
    """The take's own sound, and what is to be said where there is none."""
    try:
        sound = sounds.read(kept.uid, kept.take.plan.start_frame)
    except FileError as error:
        return None, f"{error} Its notes are sounded as they were heard."
    if sound is None:
        return None, NOT_KEPT
    return _without_clicks(sound, kept.take.plan, report), ""


def _without_clicks(sound: Sound, plan: Plan, report: Report) -> Sound:
    """Where the microphone heard the coach's click: without it.  It is sounded anew, and slowed it
    would be smeared."""
    import numpy as np

    from coach.hear.clicks import remove_clicks

    samples: Samples = sound.samples  # type: ignore[assignment]
    cleaned, _ = remove_clicks(
        samples,
        [click.frame - sound.frame for click in plan.clicks],
        sound.rate,
        kinds=[click.kind for click in plan.clicks],
        learn_until_frame=plan.downbeat_frame - sound.frame,
    )
    if cleaned is samples:
        return sound
    # From the clicks of the count-in it was learned, and these are still there.
    silent = begin_frame(plan, report, clicks=False) - sound.frame
    rest = [np.zeros(silent, np.float32), cleaned[silent:]]
    return replace(sound, samples=np.concatenate(rest))  # type: ignore[arg-type]


def wave_of(piece: KeptTake, speed: float, rate: int) -> Samples:
    """All of the take at that speed, at `rate`, from its plan's `start_frame`."""
    from coach.ports.player.heard import sounded
    from coach.ports.stretch import stretched

    take, sound = piece.kept.take, piece.sound
    if sound is None:
        slowed = Slowed(take.plan, speed, rate, take.plan.start_frame)
        end_frame = take.plan.end_frame + round(TONES_AFTER_S * take.plan.rate)
        return sounded(heard_notes(take, piece.report), slowed, end_frame)
    attacks = [attack.frame - sound.frame for attack in take.attacks]
    wave = stretched(sound.samples, sound.rate, speed, attacks, _lowest_hz(take))  # type: ignore[arg-type]
    return _at_rate(wave, sound.rate, rate)


def _lowest_hz(take: Any) -> float:
    from coach.core.pitch import hz_of_midi

    pitches = [due.pitch for due in take.plan.dues]
    pitches += [attack.pitch for attack in take.attacks if attack.pitch is not None]
    return max(LOWEST_HZ, hz_of_midi(min(pitches, default=60) - 1))


def _at_rate(wave: Samples, rate: int, wanted: int) -> Samples:
    import numpy as np

    from coach.hear.resample import Resampler

    if rate == wanted:
        return wave
    resampler = Resampler(rate, wanted)
    tail = np.zeros(resampler.delay_frames + rate // 100, np.float32)
    return resampler.feed(np.concatenate([wave, tail]))[: round(len(wave) * wanted / rate)]


def rendered(wishes: Sequence[Wish], speed: float) -> tuple[Samples, int]:
    """All that is to be heard, one after the other with a second between, and its rate."""
    import numpy as np

    from coach.ports.playback import TakeTrack, gain_for

    rate = wishes[-1].piece.kept.take.plan.rate
    waves = [wave_of(wish.piece, speed, rate) for wish in wishes]
    parts = []
    for wish, wave in zip(wishes, waves, strict=True):
        slowed = Slowed(wish.piece.kept.take.plan, speed, rate, wish.from_frame)
        track = TakeTrack(wave, slowed, clicks=wish.clicks, gain=gain_for(*waves))
        parts += [track.render(0, track.length_frames), np.zeros(round(BETWEEN_S * rate))]
    return np.concatenate(parts[:-1]).astype(np.float32), rate


class Replaying:
    """Sounds what is wished for on a port, shows it, and obeys.

    go: stop, and go on from there; halt: stop; again: from the beginning; slower and faster: by one
    of `SPEEDS`; quit.  A DeviceError passes through.
    """

    def __init__(
        self, port: Any, screen: Screen, controls: Controls, wishes: Sequence[Wish], speed: float
    ) -> None:
        self._port, self._screen, self._controls = port, screen, controls
        self._wishes, self._speed = wishes, speed
        self._pictures = Pictures()
        self._view = wishes[0].piece.view
        self._wave = lru_cache(maxsize=None)(self._made)

    def run(self) -> None:
        for number in range(len(self._wishes)):
            if not self._hear(number):
                break

    def _made(self, number: int, speed: float) -> Samples:
        return wave_of(self._wishes[number].piece, speed, self._port.rate)

    def _hear(self, number: int) -> bool:
        """One take to its end; False if that was enough."""
        wish = self._wishes[number]
        place, sounds = wish.from_frame, True
        self._begin(wish.piece)
        while True:
            command, place = self._sound(number, place) if sounds else self._wait(place)
            if command in ("", "quit"):
                return not command
            if command == "go":
                sounds = not sounds
            elif command == "halt":
                sounds = False
            elif command == "again":
                place, sounds = wish.from_frame, True
                self._begin(wish.piece)
            else:
                self._speed = stepped(self._speed, 1 if command == "faster" else -1)

    def _begin(self, piece: KeptTake) -> None:
        """A plan of its own for each hearing: by that the screen tells them apart."""
        plan = replace(piece.kept.take.plan)
        self._view = replace(piece.view, plan=plan, notice=piece.notice, speed=self._speed)

    def _sound(self, number: int, place: int) -> tuple[str, int]:
        """Sound it from that frame of the take on, until a command or the end comes: which command
        (empty: none), and where."""
        from coach.ports.click import SILENCE
        from coach.ports.playback import TakeTrack, gain_for

        wish, rate = self._wishes[number], self._port.rate
        wave = self._wave(number, self._speed)
        gain = gain_for(*(self._wave(k, self._speed) for k in range(len(self._wishes))))
        slowed = Slowed(wish.piece.kept.take.plan, self._speed, rate, place)
        first = self._port.earliest_frame()
        track = TakeTrack(wave, slowed, clicks=wish.clicks, gain=gain, first_frame=first)
        self._port.play(track)
        at, command = 0, ""
        while at < track.length_frames + AFTER_S * rate and not command:
            at = max(0, self._port.read().end_frame - first)
            self._show(first + at, wish.piece, slowed.frame(at), notice=wish.piece.notice)
            command = next(iter(self._controls.poll()), "")
        self._port.play(SILENCE)
        return command, slowed.frame(at)

    def _wait(self, place: int) -> tuple[str, int]:
        """Silence until a command comes."""
        while True:
            self._view = replace(self._view, notice=STOPPED, speed=self._speed)
            self._screen.draw(self._view)
            self._port.read()
            if commands := self._controls.poll():
                return commands[0], place

    def _show(self, at_frame: int, piece: KeptTake, frame: int, *, notice: str) -> None:
        """Draw, if a picture is due."""
        if not self._pictures.are_due(at_frame, self._port.rate):
            return
        now = whereabouts(piece.kept.take.plan, piece.report, frame)
        self._view = replace(self._view, notice=notice, speed=self._speed, **now)
        self._screen.draw(self._view)


def stepped(speed: float, direction: int) -> float:
    """The next of `SPEEDS` in that direction, the speed itself at the end of them."""
    if direction > 0:
        return min((one for one in SPEEDS if one > speed), default=speed)
    return max((one for one in SPEEDS if one < speed), default=speed)
