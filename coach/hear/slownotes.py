"""The notes of a passage played slowly, heard when all of it is over.

The blind tracker says where notes may start; it strikes twice on slow starts and on dying sound.
Each stretch between two strikes gets a pitch from the whole of it, and stretches are joined again
where nothing parts them: no change of pitch and no dip of the level.  What has no steady pitch, or
is far below the notes around it, is no note.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from coach.core.take import Attack, Chunk
from coach.hear.blind import BlindEar
from coach.hear.noteends import Levels
from coach.hear.period import find_pitch
from coach.hear.whole import whole

Samples = NDArray[np.float32]

BLOCK_FRAMES = 4096
WINDOW_S, HOP_S, SPEAK_S = 0.093, 0.010, 0.040
CLEAR = 0.8
SAME_SEMITONES = 0.5
SHORTEST_S, GAP_S, RISE_S = 0.06, 0.05, 0.08
SCOOP_S, SCOOP_SEMITONES = 0.13, 1.3
LASTING_HOPS, LATE_SPEAKS = 4, 3
FAINT_DB, NEIGHBOUR_DB, UNPITCHED_DB, LEAD_DB = 20.0, 25.0, 12.0, 12.0


@dataclass(frozen=True, slots=True)
class SlowNote:
    """A note: frames from the first sample, sounding fractional MIDI pitch (None: none was clear),
    level in dB against full scale; `joined`: the tongue did not part it from the one before."""

    frame: int
    end_frame: int
    pitch: float | None
    level_db: float
    joined: bool = False


def hear_slow_notes(samples: Samples, rate: int, *, lowest_pitch: int = 34) -> list[SlowNote]:
    """The notes in `samples`, float32 (n,), in order of time."""
    if len(samples) < SHORTEST_S * rate:
        return []
    samples, _ = whole(0, samples, rate)
    levels = Levels(samples, rate)
    track = _PitchTrack(samples, rate)
    strikes = _strikes(samples, rate, lowest_pitch)
    far = RISE_S * rate
    rises = [r for r in levels.rises() if all(abs(r - s) > far for s in strikes)]
    frames = sorted([*strikes, *rises])
    notes = [_note(levels, track, a, b) for a, b in _stretches(frames, len(samples))]
    notes = _joined_up(_without_faint(notes), levels, track)
    notes = [n for n in notes if n.pitch and n.end_frame - n.frame >= SHORTEST_S * rate]
    return [_timed(notes, k, levels) for k in range(len(notes))]


def _strikes(samples: Samples, rate: int, lowest_pitch: int) -> list[int]:
    ear = BlindEar(rate, lowest_pitch=lowest_pitch)
    attacks: list[Attack] = []
    for start in range(0, len(samples), BLOCK_FRAMES):
        block = samples[start : start + BLOCK_FRAMES]
        attacks += ear.feed(Chunk(start, len(block), block)).attacks  # type: ignore[arg-type]
    attacks += ear.finish().attacks
    return sorted({max(0, attack.frame) for attack in attacks})


def _stretches(frames: Sequence[int], length: int) -> list[tuple[int, int]]:
    return list(pairwise([*frames, length]))


class _PitchTrack:
    """The pitch every 10 ms."""

    def __init__(self, samples: Samples, rate: int) -> None:
        self._hop, self._speak = round(HOP_S * rate), round(SPEAK_S * rate)
        window = round(WINDOW_S * rate)
        padded = np.pad(samples.astype(np.float64), (window // 2, window))
        self._pitches = np.full(len(samples) // self._hop + 1, np.nan)
        for k in range(len(self._pitches)):
            found = find_pitch(padded[k * self._hop : k * self._hop + window], rate)
            if found is not None and found.clarity >= CLEAR:
                self._pitches[k] = 69 + 12 * np.log2(found.hz / 440)

    def between(self, frame: int, end_frame: int) -> float | None:
        """The pitch that a note of this span settled on: the median without its first moments."""
        low = (frame + min(self._speak, (end_frame - frame) // 3)) // self._hop
        heard = self._pitches[low : end_frame // self._hop]
        heard = heard[~np.isnan(heard)]
        return float(np.median(heard)) if len(heard) else None

    def first(self, pitch: float, frame: int, end_frame: int) -> int:
        """Where the pitch can have begun to sound: `frame`, if it is there soon after."""
        low = frame // self._hop
        near = np.abs(self._pitches[low : end_frame // self._hop] - pitch) < SCOOP_SEMITONES
        lasting = np.convolve(near, np.ones(LASTING_HOPS), mode="valid") == LASTING_HOPS
        if not lasting.any():
            return frame
        first = (low + int(np.argmax(lasting))) * self._hop
        return frame if first < frame + LATE_SPEAKS * self._speak else first - self._speak


def _note(levels: Levels, track: _PitchTrack, frame: int, limit_frame: int) -> SlowNote:
    end = levels.end_frame(frame, limit_frame)
    pitch = track.between(frame, end)
    if pitch is not None:
        frame = track.first(pitch, frame, end)
    return SlowNote(frame, end, pitch, levels.loudest_db(frame, limit_frame))


def _joined_up(notes: list[SlowNote], levels: Levels, track: _PitchTrack) -> list[SlowNote]:
    """Stretches that nothing parts are one note; what is far softer before it was the room."""
    kept: list[SlowNote] = []
    for note in notes:
        if not kept or not _is_one_note(kept[-1], note, levels):
            kept.append(note)
        elif kept[-1].level_db < note.level_db - LEAD_DB:
            kept[-1] = note
        else:
            kept[-1] = _joined(kept[-1], note, track)
    return kept


def _joined(first: SlowNote, second: SlowNote, track: _PitchTrack) -> SlowNote:
    end = max(first.end_frame, second.end_frame)
    level_db = max(first.level_db, second.level_db)
    return SlowNote(first.frame, end, track.between(first.frame, end), level_db)


def _is_one_note(before: SlowNote, note: SlowNote, levels: Levels) -> bool:
    touching = before.end_frame >= note.frame
    shortest = round(SHORTEST_S * levels.rate)
    brief = min(before.end_frame - before.frame, note.end_frame - note.frame) < shortest
    if before.pitch is None or note.pitch is None:
        return touching
    if note.frame - before.end_frame > GAP_S * levels.rate:
        return False
    apart = abs(before.pitch - note.pitch)
    scoop = before.end_frame - before.frame < SCOOP_S * levels.rate and apart < SCOOP_SEMITONES
    if touching and brief:
        return True
    return (apart < SAME_SEMITONES or (touching and scoop)) and not levels.is_parted(note.frame)


def _without_faint(notes: list[SlowNote]) -> list[SlowNote]:
    """Without the room, and the echo of loud notes: what is far below the take, or the note before.

    What has no pitch (breath, a slow start) is kept only where it is not so far below the next.
    """
    usual = float(np.percentile([note.level_db for note in notes if note.pitch] or [0.0], 75))
    kept: list[SlowNote] = []
    for note, following in pairwise([*notes, None]):
        assert note is not None
        floor = usual - FAINT_DB
        if kept:
            floor = max(floor, kept[-1].level_db - NEIGHBOUR_DB)
        if note.pitch is None and following is not None:
            floor = max(floor, following.level_db - UNPITCHED_DB)
        if note.level_db >= floor:
            kept.append(note)
    return kept


def _timed(notes: list[SlowNote], k: int, levels: Levels) -> SlowNote:
    """The note with its start where its own sound begins, and whether it joins the one before."""
    note = notes[k]
    before = notes[k - 1] if k else None
    if before is not None and before.end_frame >= note.frame and not levels.is_parted(note.frame):
        return replace(note, joined=True)
    low = before.end_frame if before else 0
    return replace(note, frame=levels.start_frame(note.frame, min(low, note.frame), note.end_frame))
