"""What click removal leaves, in dB against the click: `python -m tests.benchmarks.clicks`.

The simulated player plays eighths with the click, in a dry room and in one that rings for 0.3 s.
The click's level is given against the horn (RMS of the loudest 20 ms of each), the noise lies at
-65 dB against full scale and the sound comes 3.37 frames late.
"""

from __future__ import annotations

from random import Random

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline
from scipy.signal import oaconvolve

from coach.core.exercise import ClickStyle
from coach.core.take import Chunk
from coach.core.timeline import Plan
from coach.hear.blind import BlindEar
from coach.hear.clicks import remove_clicks
from coach.ports.click import ClickTrack
from coach.ports.player.skill import Skill, perform
from coach.ports.player.tone import render
from tests.making import plan_of, scale

RATE = 48_000
NOISE_DB = -65.0
Floats = NDArray[np.float64]
Made = tuple[Plan, Floats, Floats, Floats]


def room(rate: int, reverb_s: float, seed: int = 5) -> Floats:
    """Impulse response: the direct sound, then noise that dies away by 60 dB in `reverb_s`."""
    if reverb_s == 0:
        return np.ones(1)
    t = np.arange(round(reverb_s * rate)) / rate
    tail = np.random.default_rng(seed).standard_normal(len(t)) * 10 ** (-3 * t / reverb_s)
    tail[: round(0.003 * rate)] = 0
    tail *= np.sqrt(0.5 / np.sum(tail**2))
    tail[0] = 1.0
    return tail


def level_db(sound: Floats, rate: int) -> float:
    step = rate // 50
    powers = np.mean(sound[: len(sound) // step * step].reshape(-1, step) ** 2, axis=1)
    return 10 * np.log10(np.max(powers) + 1e-12)


def take(
    click_db: float,
    reverb_s: float,
    *,
    sound: str = "wood",
    bars: int = 4,
    seed: int = 1,
    delay_frames: float = 0.0,
    drift: float = 0.0,
) -> Made:
    """(plan, horn, click, noise), the sounds float64 of one length."""
    plan = plan_of(
        scale(53, 8) * bars, tempo_bpm=96, downbeat_frame=3 * RATE, click=ClickStyle(sound=sound)
    )
    length = plan.end_frame + RATE // 2
    horn = render(perform(plan, Skill(), Random(seed)), RATE, 0, length).astype(float)
    click = ClickTrack(plan).render(0, length).astype(float)
    if delay_frames:
        spectrum = np.fft.rfft(click, 2 * length)
        spectrum *= np.exp(-2j * np.pi * np.fft.rfftfreq(2 * length) * delay_frames)
        click = np.fft.irfft(spectrum, 2 * length)[:length]
    if drift:
        places = np.arange(length) * (1 + drift)
        click = CubicSpline(np.arange(length), click)(places)
    horn = oaconvolve(horn, room(RATE, reverb_s, 7))[:length]
    click = oaconvolve(click, room(RATE, reverb_s, 8))[:length]
    click *= 10 ** ((level_db(horn, RATE) + click_db - level_db(click, RATE)) / 20)
    noise = 10 ** (NOISE_DB / 20) * np.random.default_rng(seed).standard_normal(length)
    return plan, horn, click, noise


def residue_db(made: Made, way: str) -> tuple[float, int]:
    """(what is left of the click in dB, clicks masked) after removal.

    "count-in": learned from the count-in; "anywhere": from all clicks, kinds unknown; "no rest":
    the same without the count-in, so that the horn plays over every click.
    """
    plan, horn, click, noise = made
    start = plan.downbeat_frame - RATE // 200
    cut = start if way == "no rest" else 0
    horn, click, noise = horn[cut:], click[cut:], noise[cut:]
    cleaned, masked = remove_clicks(
        (horn + click + noise).astype(np.float32),
        [c.frame - cut for c in plan.clicks if c.frame >= cut],
        plan.rate,
        kinds=[c.kind for c in plan.clicks] if way == "count-in" else None,
        learn_until_frame=plan.downbeat_frame if way == "count-in" else None,
    )
    left = (cleaned - horn - noise)[start - cut :]
    return 10 * np.log10(np.sum(left**2) / np.sum(click[start - cut :] ** 2)), len(masked)


def onsets_found(made: Made, *, clean: bool) -> float:
    """F-measure at 10 ms of the blind ear on the notes that fall on a click."""
    import mir_eval

    plan, horn, click, noise = made
    heard = (horn + click + noise).astype(np.float32)
    clicks = [c.frame for c in plan.clicks]
    if clean:
        kinds = [c.kind for c in plan.clicks]
        until = plan.downbeat_frame
        heard, _ = remove_clicks(heard, clicks, RATE, kinds=kinds, learn_until_frame=until)
    ear = BlindEar(RATE)
    attacks = ear.feed(Chunk(0, len(heard), heard)).attacks + ear.finish().attacks
    times = np.array(sorted(a.frame for a in attacks if a.frame > plan.downbeat_frame - 2400))
    played = np.array([n.frame for n in perform(plan, Skill(), Random(1))])
    return mir_eval.onset.f_measure(played / RATE, times / RATE, window=0.010)[0]


def main() -> None:
    for sound in ("wood", "bell", "tick"):
        for reverb_s in (0.0, 0.3):
            for click_db in (-20.0, -10.0, 0.0):
                made = take(click_db, reverb_s, sound=sound, bars=8, delay_frames=3.37)
                ways = ("count-in", "anywhere", "no rest")
                parts = [f"{way} {residue_db(made, way)[0]:6.1f}" for way in ways]
                f = onsets_found(made, clean=False), onsets_found(made, clean=True)
                place = f"{sound:5} room {reverb_s} s, click {click_db:+3.0f} dB"
                print(f"{place}: residue {', '.join(parts)} dB; blind F10 {f[0]:.2f} -> {f[1]:.2f}")
    drifting = take(0.0, 0.3, drift=1e-4)
    print(f"two devices 100 ppm apart: residue {residue_db(drifting, 'count-in')[0]:6.1f} dB")


if __name__ == "__main__":
    main()
