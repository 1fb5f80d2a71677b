"""`coach tutti` in the studio: an excerpt, a horn with mistakes on it, and a room in between."""

from __future__ import annotations

import json
import math
import subprocess
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import mido
import numpy as np
from numpy.typing import NDArray
from scipy.signal import fftconvolve, resample_poly

from coach.core.exercise import Exercise
from coach.core.score.choose import Choice
from coach.core.timeline import Plan, plan_take
from coach.core.tutti.ensemble import Ensemble
from coach.core.tutti.mixer import first_mix
from coach.files.scoretutti import score_tutti
from coach.ports.ensemble.synth import Synthesis
from coach.ports.ensemble.track import EnsembleTrack
from coach.ports.ensemble.voicing import Waves
from tests.bed.leaking import BEFORE_S, LEAD_BARS, SHORT_IN_BAR, alone, leak_gain, response, tutti
from tests.bed.lined import lined_take
from tests.bed.predictors import heard_of
from tests.bed.recorder import at_rate
from tests.bed.room import level_of
from tests.bed.score import Scored, scored
from tests.bed.sources import SourceNote
from tests.bed.take import RATE as BED_RATE
from tests.bed.take import Take
from tests.studio.conftest import RATE, Player, Studio

Samples = NDArray[np.float32]

TICKS, SHORT_TICKS = 480, 120
# (name, MIDI program) of the voices of an invented excerpt, as tests/bed/leaking counts them.
VOICES = (
    ("Bass", 43),
    ("Viola", 41),
    ("Trombone", 57),
    ("Violin 2", 40),
    ("Violin 1", 40),
    ("Clarinet", 71),
    ("Oboe", 68),
)
HORN = ("Horn", 60)
PEAK = 0.3  # of the horn: nothing is overdriven with an ensemble as loud
PICKUP_FRAMES = round(BEFORE_S * RATE)
ALIKE_S, PATIENCE_S, NEAR_FRAMES = 0.002, 5.0, RATE // 20
QUIET = 1e-4  # of the loudest tap: what is cut off at the end of a room


@dataclass(frozen=True, slots=True)
class Excerpt:
    """Bars of a score, and the horn on them: the downbeat is BEFORE_S in the take."""

    score: Path
    choice: Choice
    bpm: float
    take: Take


@dataclass(frozen=True, slots=True)
class Heard:
    """What the coach told of one take."""

    scored: Scored
    events: tuple[dict[str, Any], ...]

    @property
    def right(self) -> float:
        """The share of right verdicts of all notes; unsure is not right."""
        fair = [r.verdict == r.truth.kind or r.verdict in r.truth.also for r in self.scored.rows]
        return sum(fair) / len(fair)

    @property
    def lost_frames(self) -> int:
        return sum(e["lost_frames"] for e in self.events if e["event"] == "take_end")


def invented(
    rng: np.random.Generator,
    notes: Sequence[SourceNote] | None,
    folder: Path,
    *,
    notes_per_s: float = 6.0,
    count: int = 32,
) -> Excerpt:
    """The eight parts of tests/bed/leaking, as a MIDI file in `folder`."""
    made = tutti(rng, notes, notes_per_s=notes_per_s, count=count)
    short_s, bpm = 1 / notes_per_s, 15 * notes_per_s
    lines: list[list[tuple[int, int, int]]] = [[] for _ in (*VOICES, HORN)]
    for note in made.others:
        place = _shorts(note.start_s - BEFORE_S, short_s)
        lines[note.voice].append((place, math.ceil(note.length_s / short_s - 1e-6), note.midi))
    for due in made.take.expected["notes"]:
        place = _shorts(due["onset_s"] - BEFORE_S, short_s)
        lines[-1].append((place, max(1, _shorts(due["duration_s"], short_s)), due["midi"]))
    path = folder / "invented.mid"
    _written(lines, bpm).save(path)
    last = lines[-1][-1][0] // SHORT_IN_BAR + 1
    return Excerpt(path, Choice(HORN[0], f"{LEAD_BARS + 1}-{last}"), bpm, made.take)


def printed(
    rng: np.random.Generator,
    notes: Sequence[SourceNote],
    score: Path,
    choice: Choice,
    bpm: float,
    *,
    seconds: float = math.inf,
) -> Excerpt:
    """Bars of a score that is there; the horn plays only the first `seconds` of them."""
    plan, _ = _planned(score, choice, bpm, 0)
    dues = [due for due in plan.dues if due.frame < seconds * RATE]
    return Excerpt(score, choice, bpm, lined_take(rng, notes, dues, RATE, BEFORE_S))


def room(rng: np.random.Generator, name: str) -> Samples:
    """From loudspeaker to microphone, of one of the rooms of tests/bed/leaking."""
    made = response(rng, name)
    made = made[: np.flatnonzero(np.abs(made) > QUIET * np.max(np.abs(made)))[-1] + 1]
    return np.asarray(resample_poly(made, RATE, BED_RATE), dtype=np.float32)


def at_level(excerpt: Excerpt, heard: Samples, answer: Samples, leak_db: float) -> Samples:
    """The room's answer, so strong that the ensemble is `leak_db` against the horn as `heard`."""
    plan, ensemble = _planned(excerpt.score, excerpt.choice, excerpt.bpm, PICKUP_FRAMES)
    track = EnsembleTrack(ensemble, plan, first_mix(ensemble), Waves(Synthesis(RATE)))
    first = round(excerpt.take.onsets_s[0] * RATE)
    leak = fftconvolve(track.render(0, len(heard)).astype(np.float64), answer)[: len(heard)]
    gain = level_of(heard.astype(np.float64)) * leak_gain(leak[first:], leak_db)
    return np.asarray(answer * gain, dtype=np.float32)


def horn(rng: np.random.Generator, excerpt: Excerpt) -> Samples:
    """The horn and a little noise, as it comes to the microphone."""
    noisy = replace(excerpt.take, samples=alone(rng, excerpt.take).astype(np.float32))
    sound = at_rate(noisy, RATE).samples
    return np.asarray(sound * (PEAK / np.max(np.abs(sound))), dtype=np.float32)


def start(
    studio: Studio,
    player: Player,
    excerpt: Excerpt,
    heard: Samples,
    answer: Samples | None,
    folder: Path,
    *options: str,
) -> tuple[subprocess.Popen[str], Path]:
    """The player waits for the count-in, the ensemble comes back to it by `answer`, if there is
    one; the coach is started, its home `folder`: it and its file of events."""
    np.save(folder / "horn.npy", heard)
    player.send({"do": "stop"})
    if answer is not None:
        np.save(folder / "room.npy", answer)
        player.send({"do": "room", "response": str(folder / "room.npy")})
    plan, _ = _planned(excerpt.score, excerpt.choice, excerpt.bpm, 0)
    count_in = sum(click.frame < 0 for click in plan.clicks)
    order = {"do": "take", "count_in": count_in, "downbeat_frame": PICKUP_FRAMES}
    player.send(order | {"audio": str(folder / "horn.npy")})
    events = folder / "events.jsonl"
    events.unlink(missing_ok=True)
    bars = ("--bars", excerpt.choice.bars) if excerpt.choice.bars else ()
    words = ("--part", str(excerpt.choice.part), *bars, "--tempo", f"{excerpt.bpm:g}")
    how = ("--lead", str(LEAD_BARS), "--takes", "1", "--plain", "--simple-sound", "--no-sound")
    coach = studio.start(
        *("-m", "coach", "tutti", str(excerpt.score), *words, *how, *options),
        *("--events", str(events)),
        COACH_HOME=str(folder),
    )
    return coach, events


def in_time(player: Player) -> bool:
    """Whether the player played as it should (asked after the take): the whole count-in was heard,
    so that something began on the downbeat, and the server left nothing out."""
    locked, played = player.expect("locked", PATIENCE_S), player.expect("played", PATIENCE_S)
    downbeat = locked["downbeat_frame"]
    heard = any(abs(onset - downbeat) < NEAR_FRAMES for onset in played["clicks"])
    return heard and played["missed_frames"] == 0


def told(excerpt: Excerpt, events: Path) -> Heard:
    """The verdicts of the one take against the truth; AssertionError if it is not whole, or another
    one than was played."""
    lines = tuple(json.loads(line) for line in events.read_text("utf-8").splitlines())
    (began,) = (e for e in lines if e["event"] == "take_start")
    asked = excerpt.take.expected["notes"]
    assert [n["midi"] for n in began["expected"]] == [n["midi"] for n in asked]
    for mine, theirs in zip(began["expected"], asked, strict=True):
        assert abs(mine["onset_s"] + BEFORE_S - theirs["onset_s"]) < ALIKE_S
    last = {e["index"]: e for e in lines if e["event"] == "verdict"}
    notes = [_in_take(last[k]) for k in range(len(asked))]
    heard = heard_of({"notes": notes, "extra": []})
    return Heard(scored(excerpt.take, heard), lines)


def _in_take(verdict: dict[str, Any]) -> dict[str, Any]:
    """Seconds of the take instead of from the downbeat."""
    at = verdict["attack_s"]
    return verdict | {"attack_s": None if at is None else at + BEFORE_S}


def _planned(score: Path, choice: Choice, bpm: float, downbeat: int) -> tuple[Plan, Ensemble]:
    drill, player, ensemble = score_tutti(score, choice, LEAD_BARS)
    exercise = Exercise(drill.variants[0], bpm, player.transposition, drill.click, warp=drill.warp)
    return plan_take(exercise, RATE, downbeat), ensemble


def _shorts(seconds: float, short_s: float) -> int:
    return round(seconds / short_s)


def _written(lines: Sequence[Sequence[tuple[int, int, int]]], bpm: float) -> mido.MidiFile:
    """One track a voice, of (place, length, pitch), the first two in short notes."""
    made = mido.MidiFile(ticks_per_beat=TICKS)
    tempo = mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(bpm))
    made.tracks.append(mido.MidiTrack([tempo]))
    for channel, ((name, program), line) in enumerate(zip((*VOICES, HORN), lines, strict=True)):
        track = mido.MidiTrack([mido.MetaMessage("track_name", name=name)])
        track.append(mido.Message("program_change", program=program, channel=channel))
        at = 0
        for tick, on, pitch in sorted(_ends(line)):
            kind = "note_on" if on else "note_off"
            message = mido.Message(kind, note=pitch, time=tick - at, channel=channel)
            track.append(message)
            at = tick
        made.tracks.append(track)
    return made


def _ends(line: Sequence[tuple[int, int, int]]) -> list[tuple[int, bool, int]]:
    """(tick, whether it begins, pitch)."""
    begins = [(SHORT_TICKS * at, True, pitch) for at, _, pitch in line]
    return begins + [(SHORT_TICKS * (at + length), False, pitch) for at, length, pitch in line]
