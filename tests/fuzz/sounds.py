"""Sound that no microphone sends: every ear and tool, at any rate, in blocks of any size."""

from __future__ import annotations

import json
import warnings
from fractions import Fraction
from functools import cache
from pathlib import Path
from random import Random
from types import SimpleNamespace
from typing import Any

import numpy as np
import soundfile

from coach.assessment import assess
from coach.cli.listening import Recording, heard_notes
from coach.core.events import verdict_told
from coach.core.expected import Expected
from coach.core.judge import Judge
from coach.core.report import Report
from coach.core.rules import Rules
from coach.core.sound import Sound
from coach.core.take import Chunk
from coach.core.timeline import Plan
from coach.errors import CoachError
from coach.files.audio import read_audio
from coach.files.takesound import TakeSounds
from coach.hear.align import align
from coach.hear.answers import find_answer
from coach.hear.blind import BlindEar
from coach.hear.follow.ear import FollowEar
from coach.hear.levels import measure_level
from coach.hear.onethread import one_thread
from coach.hear.releases import ReleaseEar
from coach.hear.resample import Resampler
from coach.hear.roundtrip import find_round_trip, make_probe
from coach.hear.slownotes import hear_slow_notes
from coach.hear.through import ThroughEar
from coach.hear.tuner import Tuner
from coach.hear.whole import whole
from coach.ports.player.skill import STEADY, perform
from coach.ports.player.tone import render
from tests.fuzz.plain import said, strict
from tests.making import plan_of, scale

RATES = (8_000, 11_025, 16_000, 22_050, 44_100, 48_000, 96_000, 192_000)
BLOCKS = (1, 2, 17, 64, 256, 1000, 4096, 65_536)
# A sample that is no sound, or that could break a sum.
WRONG = (float("nan"), float("inf"), float("-inf"), 1e30, -3e38, 1e7)


def plan_at(rate: int) -> Plan:
    """Four notes in 0.3 s, after a tenth of a second."""
    return plan_of(scale(58, 4), tempo_bpm=360, rate=rate, downbeat_frame=rate // 10)


@cache
def _played(rate: int) -> Any:
    plan = plan_at(rate)
    played = perform(plan, STEADY, Random(3))
    return render(played, rate, 0, plan.end_frame + rate // 10)


def _noise(random: Random, count: int, size: float) -> Any:
    made = np.random.default_rng(random.randrange(2**32)).normal(0, 1, count)
    return made * np.float64(size)


def signal(random: Random, rate: int) -> Any:
    """Half a second or less: played, or made; float32 (n,)."""
    count = random.choice([0, 1, 2, 100, rate // 10, rate // 2, rate // 2])
    t = np.arange(count)
    kind = random.choice(
        ["played", "played", "silence", "noise", "denormal", "faint", "dc", "square", "impulse"]
    )
    made = {
        "played": lambda: np.resize(_played(rate), count),
        "silence": lambda: np.zeros(count),
        "noise": lambda: _noise(random, count, 10.0 ** random.randint(-9, 4)),
        "denormal": lambda: _noise(random, count, 1e-40),
        "faint": lambda: _noise(random, count, 1e-20),
        "dc": lambda: np.full(count, random.choice([1.0, -0.5, 1e6])),
        "square": lambda: np.where((t // random.randint(1, 500)) % 2, 1.0, -1.0),
        "impulse": lambda: (t == count // 2) * 1.0,
    }[kind]()
    return made.astype(np.float32)


def broken(samples: Any, random: Random) -> Any:
    """With a few samples, a stretch, or every tenth one that is no sound."""
    samples = samples.copy()
    if not len(samples):
        return samples
    wrong, at = random.choice(WRONG), random.randrange(len(samples))
    match random.randrange(4):
        case 0:
            samples[at] = wrong
        case 1:
            samples[at : at + random.randint(1, 3000)] = wrong
        case 2:
            samples[at :: random.randint(1, 50)] = wrong
        case _:
            samples[:] = wrong
    return samples


def blocks(samples: Any, random: Random, start: int = 0) -> list[Chunk]:
    """Chunks of changing size; a hundred at most, and an empty one now and then."""
    usual, made, at = random.choice(BLOCKS), [], 0
    while at < len(samples):
        size = usual if random.random() < 0.8 else random.choice(BLOCKS)
        size = max(size, len(samples) // 100)
        part = samples[at : at + size]
        made.append(Chunk(start + at, len(part), part))
        if random.random() < 0.1:
            made.append(Chunk(start + at + len(part), 0, part[:0]))
        at += len(part)
    return made


def ears(random: Random, folder: Path) -> str:
    """A take through one of the ears and the judge: verdicts, and none of it clean where the sound
    was none."""
    rate = random.choice(RATES)
    plan = plan_at(rate)
    samples = signal(random, rate)
    spoiled = random.random() < 0.6
    samples = broken(samples, random) if spoiled else samples
    name = random.choice(["follow", "through", "release", "blind"])
    judge = Judge(plan.dues, Rules(), rate)
    with warnings.catch_warnings(), one_thread():
        warnings.simplefilter("error")
        ear: Any = _ear(name, plan, samples)
        for chunk in blocks(samples, random):
            judge.step(ear.feed(chunk))
        judge.step(ear.finish())
    judge.finish(follows=name != "blind")
    _checked(judge.report(), plan, samples)
    return f"{name}, {'no sound' if spoiled else 'sound'}"


def _ear(name: str, plan: Plan, samples: Any) -> Any:
    clicks = {"clicks": plan.clicks, "learn_until_frame": plan.downbeat_frame}
    if name == "blind":
        return BlindEar(plan.rate)
    if name == "through":
        return ThroughEar(plan.dues, plan.rate, _played_out, **clicks)
    if name == "release":
        return ReleaseEar(
            plan.dues,
            plan.rate,
            [1, 3],
            lambda heard: FollowEar(plan.dues, plan.rate, heard=heard, **clicks),
        )
    return FollowEar(plan.dues, plan.rate, **clicks)


def _played_out(frame: int, length: int) -> Any:
    t = np.arange(frame, frame + length)
    return (0.05 * np.sin(0.05 * t) * (t > 300)).astype(np.float32)


def _checked(report: Report, plan: Plan, samples: Any) -> None:
    """All of it is JSON, every note has its verdict, and a note whose attack is no sound is not
    held to be clean."""
    text = json.dumps(report.to_dict())
    strict(text)
    assert len(report.verdicts) == len(plan.dues)
    wrong = np.flatnonzero(~(np.abs(samples) <= 1e6))
    for verdict in report.verdicts:
        strict(json.dumps(verdict_told(1, verdict, plan)))
        if verdict.attack is not None and len(wrong):
            near = np.abs(wrong - verdict.attack.frame).min() < 0.01 * plan.rate
            assert not near or verdict.kind == "unsure", verdict
    if len(samples) and len(wrong) == len(samples):
        assert not any(verdict.kind == "clean" for verdict in report.verdicts)


def tools(random: Random, folder: Path) -> str:
    """Everything else that is given sound."""
    rate = random.choice(RATES)
    samples = signal(random, rate)
    samples = broken(samples, random) if random.random() < 0.6 else samples
    name = random.choice(list(_TOOLS))
    with warnings.catch_warnings(), one_thread():
        warnings.simplefilter("error")
        try:
            _TOOLS[name](samples, rate, random, folder)
        except CoachError as error:
            said(error)
            return f"{name}: error"
    return name


def _tuned(samples: Any, rate: int, random: Random, folder: Path) -> None:
    drone = random.choice([None, 174.6])
    tuner = Tuner(rate, drone_hz=drone)
    if drone:
        samples = np.concatenate([_played_out(0, rate), samples])
    for chunk in blocks(samples, random, random.choice([0, -500, 10**9])):
        for reading in tuner.feed(chunk.frame, chunk.samples):  # type: ignore[arg-type]
            assert reading.hz is None or 20 < reading.hz < rate
            assert np.isfinite(reading.level_db)


def _levelled(samples: Any, rate: int, random: Random, folder: Path) -> None:
    if len(samples) < rate // 50 + 1:
        return
    level = measure_level(samples, rate)
    assert np.isfinite([level.loud_db, level.noise_db]).all()


def _measured(samples: Any, rate: int, random: Random, folder: Path) -> None:
    probe = make_probe(rate)
    sent = [0, rate // 4, rate // 2]
    long = np.zeros(2 * rate, np.float32)
    long[: len(samples)] = samples
    if random.random() < 0.5:
        for at in sent:
            long[at + 50 : at + 50 + len(probe)] += probe
    trip = find_round_trip(long, probe, sent, rate)
    assert np.isfinite(trip.frames)


def _answered(samples: Any, rate: int, random: Random, folder: Path) -> None:
    found = find_answer(samples, [rate // 8, rate // 4, 3 * rate // 8, rate // 2], rate)
    assert np.isfinite(found.frames)


def _slow(samples: Any, rate: int, random: Random, folder: Path) -> None:
    for note in hear_slow_notes(samples, rate):
        assert note.pitch is None or np.isfinite(note.pitch)


def _learned(samples: Any, rate: int, random: Random, folder: Path) -> None:
    plan = plan_at(rate)
    samples, _ = whole(0, samples, rate)  # as they are recorded
    for note in heard_notes(Recording(0, samples, ()), plan, 34):
        assert np.isfinite(note.start_beats)


def _resampled(samples: Any, rate: int, random: Random, folder: Path) -> None:
    """Any rate to any other, in blocks as at once."""
    to_rate = random.choice(RATES)
    samples = np.nan_to_num(np.clip(samples, -1, 1))
    at_once = Resampler(rate, to_rate).feed(samples)
    one = Resampler(rate, to_rate)
    parts = [one.feed(np.asarray(chunk.samples)) for chunk in blocks(samples, random)]
    joined = np.concatenate([*parts, np.zeros(0, np.float32)])
    assert len(joined) == len(at_once)
    assert np.allclose(joined, at_once, atol=1e-5)


def _aligned(samples: Any, rate: int, random: Random, folder: Path) -> None:
    page = [
        SimpleNamespace(
            pitch=60 + k, start_beats=Fraction(k), end_beats=Fraction(k + 1), velocity=80
        )
        for k in range(4)
    ]
    found = align(samples, rate, page, [Fraction(0), Fraction(2)], bpm=240)  # type: ignore[arg-type]
    assert all(0 <= sure <= 1 for sure in found.positions.sure)


def _assessed(samples: Any, rate: int, random: Random, folder: Path) -> None:
    notes = [
        {"onset_s": 0.1 + 0.08 * k, "duration_s": 0.08, "midi": 58 + k, "slurred": k == 2}
        for k in range(4)
    ]
    data = {"notes": notes, "anchor": random.choice(["grid", "free"])}
    data["clicks_s"] = random.choice([None, [0.0, 0.1, 0.26]])
    strict(json.dumps(assess(samples, rate, Expected.from_dict(data)).to_dict()))


def _kept(samples: Any, rate: int, random: Random, folder: Path) -> None:
    """The sound of a take kept and read again; a float file with anything in it."""
    if rate < 16_000 or not len(samples):
        return
    sounds = TakeSounds(folder / "sound")
    sounds.keep("0" * 32, Sound(0, rate, samples))
    again = sounds.read("0" * 32, 0)
    assert again is not None
    assert np.isfinite(again.samples).all()
    path = folder / "any.wav"
    soundfile.write(path, samples, rate, subtype="FLOAT")
    read_audio(path)


_TOOLS = {
    "tuner": _tuned,
    "levels": _levelled,
    "round trip": _measured,
    "answers": _answered,
    "slow notes": _slow,
    "learn": _learned,
    "resampler": _resampled,
    "align": _aligned,
    "assess": _assessed,
    "kept sound": _kept,
}
