"""Key-switches: notes that choose a sound in a sample library and are not part of the music."""

from __future__ import annotations

from collections.abc import Sequence

from coach.files.smf.song import SongNote

# Outside the piano's lowest octave and above its top note no line is written; between such notes
# and the others there must be an octave at least (common practice, no source).
LOWEST_PITCH = 24
HIGHEST_PITCH = 108
APART_SEMITONES = 12


def without_key_switches(sounds: Sequence[SongNote]) -> tuple[list[SongNote], int]:
    """The notes of a part without those below `LOWEST_PITCH` or above `HIGHEST_PITCH` that lie
    `APART_SEMITONES` or more away from all others, and how many these were."""
    pitches = {sound.pitch for sound in sounds}
    inside = {pitch for pitch in pitches if LOWEST_PITCH <= pitch <= HIGHEST_PITCH}
    if not inside:
        return list(sounds), 0
    dropped = _far(pitches, inside, below=True) | _far(pitches, inside, below=False)
    kept = [sound for sound in sounds if sound.pitch not in dropped]
    return kept, len(sounds) - len(kept)


def _far(pitches: set[int], inside: set[int], *, below: bool) -> set[int]:
    if below:
        outside = {pitch for pitch in pitches if pitch < LOWEST_PITCH}
        far = bool(outside) and min(inside) - max(outside) >= APART_SEMITONES
    else:
        outside = {pitch for pitch in pitches if pitch > HIGHEST_PITCH}
        far = bool(outside) and min(outside) - max(inside) >= APART_SEMITONES
    return outside if far else set()
