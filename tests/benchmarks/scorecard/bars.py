"""Bar lines found in recordings whose bars are known, beside a common recipe with librosa: chroma
of the page and of the sound, laid along one another by dynamic time warping."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from coach.core.tutti.ensemble import Sounded
from coach.hear.align import align
from tests.bed.ensemble import RATE, Rubato, recorded
from tests.benchmarks.align import Case, cases
from tests.benchmarks.scorecard.processes import busy
from tests.benchmarks.scorecard.rows import Figure

Floats = NDArray[np.float64]

QUICK_CASES = 1
LEAD_S = 2.0
# Chosen on other songs (seeds from 10 on) among stft, cqt and cens, hops of 128 to 1,024, notes
# that last or die away, steps of one or of up to two, the whole sound or a part of it.
HOP, DYING_S = 256, 1.0
STEPS = np.array([[1, 1], [1, 2], [2, 1]])
# Keeps columns in which nothing sounds from having no direction.
LITTLE = 1e-3


@dataclass(frozen=True, slots=True)
class Recording:
    """A case as it is played: `true_s` is where each of its beats lies."""

    case: Case
    samples: NDArray[np.float32]
    true_s: Floats

    @property
    def notes(self) -> list[Sounded]:
        return [note for voice in self.case[1] for note in voice.notes]


def measured(quick: bool) -> dict[str, Figure]:
    """Figures for rows.BARS."""
    chosen = list(cases())[: QUICK_CASES if quick else None]
    made = [recording_of(case, seed) for seed, case in enumerate(chosen)]
    dtw_of(made[0])  # what is compiled the first time is not counted
    sound_s = sum(len(one.samples) / RATE for one in made)
    ours, ours_s = busy(lambda: [ours_of(one) for one in made])
    theirs, theirs_s = busy(lambda: [dtw_of(one) for one in made])
    mine, other = _errors_ms(made, ours, ours), _errors_ms(made, theirs, ours)
    n = f"{len(mine)} bars"
    return {
        "bars median": Figure(*(float(np.median(e)) for e in (mine, other)), n),
        "bars p95": Figure(*(float(np.percentile(e, 95)) for e in (mine, other)), n),
        "bars speed": Figure(sound_s / ours_s, sound_s / theirs_s, f"{sound_s:.0f} s"),
    }


def _errors_ms(
    made: Sequence[Recording], found: Sequence[Floats], inside: Sequence[Floats]
) -> Floats:
    """Sizes of the errors, a constant bias taken out, over the bar lines between the first attack
    and the last."""
    off = [1000 * (at - one.true_s) for at, one in zip(found, made, strict=True)]
    kept = [one[np.isfinite(which)] for one, which in zip(off, inside, strict=True)]
    every = np.concatenate(kept)
    return np.abs(every - np.median(every))


def recording_of(case: Case, seed: int) -> Recording:
    """Played with a tempo that comes and goes, in a room, slowing down at the end."""
    _, voices, beats, bpm = case
    end = max(float(note.end_beats) for voice in voices for note in voice.notes)
    tempo = Rubato(bpm * (0.85 + 0.1 * (seed % 3)), end, 0.15, 13 + seed, seed, end - 12)
    samples, _ = recorded(voices, tempo, seed, LEAD_S)
    return Recording(case, samples, LEAD_S + tempo.seconds([float(beat) for beat in beats]))


def ours_of(one: Recording) -> Floats:
    """Seconds of each beat, nan where it is not in the recording."""
    _, _, beats, bpm = one.case
    found = align(one.samples, RATE, one.notes, beats, bpm=bpm)
    inside = [found.from_beat <= beat <= found.to_beat for beat in beats]
    return np.where(inside, np.array(found.positions.frames) / RATE, np.nan)


def dtw_of(one: Recording) -> Floats:
    """Seconds of each beat: the middle of the columns that lie beside its column of the page."""
    import librosa

    _, _, beats, bpm = one.case
    sound = librosa.feature.chroma_cqt(y=one.samples, sr=RATE, hop_length=HOP, tuning=0.0)
    page = page_chroma(one.notes, bpm)
    # The page is all in the sound; before and after it there may be anything.
    _, way = librosa.sequence.dtw(
        page + LITTLE,
        sound + LITTLE,
        metric="cosine",
        subseq=True,
        step_sizes_sigma=STEPS,
    )
    rows, columns = way[::-1].T
    each = np.unique(rows)
    middle = np.array([columns[rows == row].mean() for row in each])
    wanted = np.array([float(beat) for beat in beats]) * 60 / bpm * RATE / HOP
    return np.interp(wanted, each, middle) * HOP / RATE


def page_chroma(notes: Sequence[Sounded], bpm: float) -> Floats:
    """How much of the twelve pitch classes sounds in each hop at the tempo of the page, (12, n)."""
    hops_a_beat = 60 / bpm * RATE / HOP
    last = max(float(note.end_beats) for note in notes)
    chroma = np.zeros((12, int(np.ceil(last * hops_a_beat)) + 1))
    for note in notes:
        begin = round(float(note.start_beats) * hops_a_beat)
        end = max(begin + 1, round(float(note.end_beats) * hops_a_beat))
        chroma[note.pitch % 12, begin:end] += np.exp(-np.arange(end - begin) * HOP / RATE / DYING_S)
    return chroma
