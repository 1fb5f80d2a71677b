"""A recording of many players slowed in several ways, against the same music played slower.

`python -m tests.benchmarks.laying`: twelve bars of made-up songs at 0.5 and 0.75 of their speed, by
the coach's own way (attacks known exactly, 15 ms off, not at all), and by Rubber Band (pedalboard)
and Signalsmith Stretch (python-stretch) where these are installed.  Printed: how strong attacks
rise against the music played slower (dB), how far the middle of long notes is from its pitch there
(cents), how far the spectrum is (share), seconds it took.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator

import numpy as np

from coach.hear.align.bank import features
from coach.ports.stretch import stretched
from tests.bed.ensemble import RATE, Rubato, recorded, song

BPM, LEAD_S = 100.0, 1.0
HOP_S = 0.005
LOWEST_HZ = 60.0
WINDOW = 8192


def ways(sound: np.ndarray, speed: float, attacks: np.ndarray) -> Iterator[tuple[str, Callable]]:
    off = attacks + np.random.default_rng(3).normal(0, 0.015, len(attacks))
    for name, known in (("attacks known", attacks), ("15 ms off", off), ("not known", ())):
        places = [round(max(0.01, at) * RATE) for at in known]
        yield f"own, {name}", lambda p=places: stretched(sound, RATE, speed, p, LOWEST_HZ)
    try:
        import pedalboard
        import python_stretch
    except ImportError:
        return

    def signalsmith() -> np.ndarray:
        stretch = python_stretch.Signalsmith.Stretch()
        stretch.preset(1, RATE)
        stretch.timeFactor = speed
        return stretch.process(sound[None])[0]

    yield "Rubber Band", lambda: pedalboard.time_stretch(sound[None], RATE, speed)[0]
    yield "Signalsmith", signalsmith


def rises_db(slow: np.ndarray, wanted: np.ndarray, attacks: np.ndarray) -> list[float]:
    """How much steeper attacks are than wanted, those that stand out."""
    rising = [np.diff(np.linalg.norm(_onsets(one), axis=1), prepend=0) for one in (slow, wanted)]
    made = []
    for at in attacks:
        near = slice(round(at / HOP_S) - 10, round(at / HOP_S) + 14)
        steep = [one[near].max() for one in rising]
        if steep[1] > 0.3 * np.quantile(rising[1], 0.995):
            made.append(20 * np.log10(steep[0] / steep[1]))
    return made


def _onsets(sound: np.ndarray) -> np.ndarray:
    """Level of short windows in bands of 500 Hz, compressed."""
    hop, size = round(HOP_S * RATE), 512
    count = len(sound) // hop
    padded = np.pad(sound, (size // 2, size))
    frames = np.stack([padded[k * hop : k * hop + size] for k in range(count)])
    power = np.abs(np.fft.rfft(frames * np.hanning(size), axis=1)) ** 2
    bands = power[:, :240].reshape(count, 20, 12).sum(axis=2)
    return np.log1p(1000 * bands / bands.max())


def cents_off(
    slow: np.ndarray, wanted: np.ndarray, notes: list, tempo: Rubato, lead_s: float
) -> list[float]:
    made = []
    for note in notes:
        start, end = tempo.seconds([float(note.start_beats), float(note.end_beats)]) + lead_s
        middle = round((0.45 * start + 0.55 * end) * RATE)
        if end - start > 0.9 and note.pitch >= 48:
            one, other = (_peak_hz(sound, middle, note.pitch) for sound in (slow, wanted))
            made.append(abs(1200 * np.log2(one / other)))
    return made


def _peak_hz(sound: np.ndarray, middle: int, pitch: int) -> float:
    part = sound[middle - WINDOW // 2 : middle + WINDOW // 2] * np.hanning(WINDOW)
    spectrum = np.abs(np.fft.rfft(part, 8 * WINDOW))
    hz = 440 * 2 ** ((pitch - 69) / 12) * np.array([2**-0.05, 2**0.05])
    low, high = (hz * 8 * WINDOW / RATE).astype(int)
    return (low + int(np.argmax(spectrum[low:high]))) * RATE / (8 * WINDOW)


def main() -> None:
    for speed in (0.5, 0.75):
        voices = song(1, 12)
        notes = [note for voice in voices for note in voice.notes]
        quick, gentle = Rubato(BPM, 48, 0), Rubato(BPM * speed, 48, 0)
        sound, _ = recorded(voices, quick, 1, LEAD_S)
        wanted, _ = recorded(voices, gentle, 1, LEAD_S / speed, 2.0 / speed)
        attacks = quick.seconds(sorted({float(note.start_beats) for note in notes})) + LEAD_S
        for name, way in ways(sound, speed, attacks):
            start = time.perf_counter()
            slow = way()
            took = time.perf_counter() - start
            size = min(len(slow), len(wanted))
            rises = rises_db(slow[:size], wanted[:size], attacks / speed)
            cents = cents_off(slow[:size], wanted[:size], notes, gentle, LEAD_S / speed)
            one, other = (features(part[:size], RATE, 0.02).sounding for part in (slow, wanted))
            far = float(1 - np.mean(np.sum(one * other, axis=1)))
            print(
                f"{speed:4} {name:20} rise {np.median(rises):5.1f} dB (5 %: "
                f"{np.percentile(rises, 5):5.1f})  pitch {np.median(cents):4.1f} (95 %: "
                f"{np.percentile(cents, 95):4.1f}) cents  spectrum {far:.3f}  {took:.1f} s"
            )


if __name__ == "__main__":
    main()
