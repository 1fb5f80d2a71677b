"""Ways of slowing real horn, in figures: `python -m tests.benchmarks.stretching [SPEED]`.

The staccato takes and phrases beside the checkout at half speed (or SPEED), by the coach's own way
and, where they are installed, by Rubber Band (`pip install pedalboard`) and Signalsmith Stretch
(`pip install python-stretch`).  For each, median [5 %, 95 %]:

- `-20 dB`, `half`: when the attack comes to -20 dB of its peak and to half of it, in ms after (+)
  or before (-) where it belongs: between the attack's own time from its marked start on, and that
  time slowed (0 in between)
- `rise`: from -20 dB to half the peak, in ms; first that of the take itself
- `cents`: pitch in the middle of notes against that of the take, without sign
- `seconds`: to slow 15 s
"""

from __future__ import annotations

import csv
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
from scipy.signal import butter, sosfiltfilt

from coach.core.pitch import hz_of_midi
from coach.files.audio import read_audio
from coach.ports.stretch import stretched
from tests.conftest import SHARED

RECORDINGS = SHARED / "recordings"
LONGEST_S = 20
BEFORE_S, AFTER_S = 0.05, 0.3
Samples = np.ndarray
# (attack in seconds, pitch in Hz, end in seconds) of each note.
Marks = list[tuple[float, float, float]]
# Samples, rate, speed, marks: the slowed samples.
Way = Callable[[Samples, int, float, Marks], Samples]


def own(samples: Samples, rate: int, speed: float, marks: Marks) -> Samples:
    attacks = [round(at * rate) for at, _, _ in marks]
    return stretched(samples, rate, speed, attacks, min(hz for _, hz, _ in marks))


def own_off(samples: Samples, rate: int, speed: float, marks: Marks) -> Samples:
    """With attacks heard 5 ms too early and too late in turn."""
    moved = [(at + 0.005 * (-1) ** k, *more) for k, (at, *more) in enumerate(marks)]
    return own(samples, rate, speed, moved)


def rubber_band(**how: object) -> Way:
    import pedalboard

    def slow(samples: Samples, rate: int, speed: float, marks: Marks) -> Samples:
        return pedalboard.time_stretch(samples[None], rate, stretch_factor=speed, **how)[0]

    return slow


def signalsmith(samples: Samples, rate: int, speed: float, marks: Marks) -> Samples:
    import python_stretch

    stretch = python_stretch.Signalsmith.Stretch()
    stretch.preset(1, float(rate))
    stretch.setTimeFactor(speed)
    return stretch.process(samples[None])[0]


def ways() -> dict[str, Way]:
    found: dict[str, Way] = {"own": own, "own, off 5 ms": own_off}
    try:
        found["rubber band"] = rubber_band()
        found["rubber band, short"] = rubber_band(use_long_fft_window=False)
        crisp = {"high_quality": False, "transient_mode": "mixed", "use_long_fft_window": False}
        found["rubber band, crisp"] = rubber_band(**crisp)
    except ImportError:
        print("pedalboard is not installed: left out")
    try:
        import python_stretch  # noqa: F401

        found["signalsmith"] = signalsmith
    except ImportError:
        print("python-stretch is not installed: left out")
    return found


def takes() -> list[tuple[Samples, int, Marks, list[bool]]]:
    """(samples, rate, marks, which of them are good for measuring an attack)."""
    made = []
    sure = {
        (row["file"], row["n"])
        for row in csv.DictReader((RECORDINGS / "phrase_marks.csv").open())
        if row["kind"] == "attack" and float(row["dip_db"]) <= -20
    }
    for folder in ("staccato", "phrases"):
        for path in sorted((RECORDINGS / folder).glob("*.csv")):
            samples, rate = read_audio(path.with_suffix(".flac"))
            rows = list(csv.DictReader(path.open()))
            rows = [row for row in rows if float(row["onset_s"]) < LONGEST_S - 1]
            marks = [
                (float(row["onset_s"]), hz_of_midi(float(row["midi"])), float(row["offset_s"]))
                for row in rows
            ]
            good = [folder == "staccato" or (path.stem, row["n"]) in sure for row in rows]
            made.append((samples[: LONGEST_S * rate], rate, marks, good))
    return made


def rise(
    samples: Samples, rate: int, at: float, hz: float, slower: float = 1.0
) -> tuple[float, float]:
    """When an attack comes to -20 dB of its peak and to half of it, in seconds."""
    low = max(0, int((at - BEFORE_S * slower) * rate))
    part = samples[low : int((at + AFTER_S * slower) * rate)]
    part = sosfiltfilt(butter(4, 0.6 * hz / (rate / 2), "high", output="sos"), part)
    width = rate // 500
    level = np.sqrt(np.convolve(part**2, np.ones(width) / width, "same"))
    half = int(np.argmax(level > level.max() / 2))
    quiet = np.flatnonzero(level[: half + 1] < level.max() / 10)
    first = int(quiet[-1]) + 1 if len(quiet) else 0
    return (low + first) / rate, (low + half) / rate


def pitch(samples: Samples, rate: int, start: float, end: float, hz: float) -> float:
    """The pitch whose eight harmonics hold most, within a semitone of `hz`."""
    part = samples[int(start * rate) : int(end * rate)]
    size = 1 << 18
    spectrum = np.abs(np.fft.rfft(part * np.hanning(len(part)), size))
    tried = hz * 2 ** (np.arange(-100, 101) / 1200)
    held = sum(spectrum[np.rint(tried * k * size / rate).astype(int)] for k in range(1, 9))
    return float(tried[np.argmax(held)])


def off_ms(found: float, own_s: float, speed: float, start: float) -> float:
    low, high = start / speed + own_s - start, own_s / speed
    return 1000 * (min(0.0, found - low) + max(0.0, found - high))


def figures(values: list[float]) -> str:
    low, middle, high = np.percentile(values, [5, 50, 95])
    return f"{middle:5.1f} [{low:6.1f} {high:6.1f}]"


def measure(name: str, way: Way, speed: float) -> None:
    early, half, own_rise, new_rise, cents = [], [], [], [], []
    took = lasted = 0.0
    for samples, rate, marks, good in takes():
        began = time.perf_counter()
        slow = way(samples, rate, speed, marks)
        took += time.perf_counter() - began
        lasted += len(samples) / rate
        for (at, hz, end), sure in zip(marks, good, strict=True):
            ends = (at + 0.4 * (end - at), at + 0.8 * (end - at))
            was = pitch(samples, rate, *ends, hz)
            cents.append(
                abs(1200 * np.log2(pitch(slow, rate, ends[0] / speed, ends[1] / speed, hz) / was))
            )
            if sure:
                a = rise(samples, rate, at, hz)
                b = rise(slow, rate, at / speed, hz, 1 / speed)
                early.append(off_ms(b[0], a[0], speed, at))
                half.append(off_ms(b[1], a[1], speed, at))
                own_rise.append(1000 * (a[1] - a[0]))
                new_rise.append(1000 * (b[1] - b[0]))
    print(
        f"{name:<19} -20 dB {figures(early)}  half {figures(half)}"
        f"  rise {np.median(own_rise):.1f} -> {figures(new_rise)}"
        f"  cents {figures(cents)}  seconds {15 * took / lasted:.2f}  ({len(early)} attacks)"
    )


if __name__ == "__main__":
    if not Path(RECORDINGS).is_dir():
        sys.exit("the recordings beside the checkout are needed")
    for name, way in ways().items():
        measure(name, way, float(sys.argv[1]) if len(sys.argv) > 1 else 0.5)
