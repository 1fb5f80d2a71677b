"""A line as JSON: the result of `coach passage`."""

from __future__ import annotations

from typing import Any

from coach.core.score.line import Line, LineNote


def line_dict(line: Line, instrument: str | None) -> dict[str, Any]:
    """Times in quarter notes as exact fractions in strings, from the start of the line; `midi`
    sounds; `bar` is a number where the printed one is; tempi in quarter notes a minute."""
    return {
        "title": line.title,
        "part": line.part,
        "instrument": instrument,
        "transposition": line.transposition,
        "length_beats": str(line.length),
        "meter_changes": [
            {"onset_beats": str(onset), "meter": meter.text} for onset, meter in line.meters
        ],
        "key_changes": [{"onset_beats": str(at), "fifths": fifths} for at, fifths in line.keys],
        "tempo_changes": [
            {"onset_beats": str(at), "quarter_bpm": round(bpm, 3)} for at, bpm in line.tempos
        ],
        "notes": [_note_dict(note) for note in line.notes],
        "remarks": list(line.remarks),
    }


def _note_dict(note: LineNote) -> dict[str, Any]:
    return {
        "bar": int(note.bar) if note.bar.isdecimal() else note.bar,
        "beat": str(note.beat),
        "onset_beats": str(note.onset),
        "duration_beats": str(note.length),
        "midi": note.sounding,
        "written": note.written.name,
        "slurred": note.slurred,
        "grace": note.grace,
        "tied": note.tied,
        "fingering": note.fingering,
        "syllable": note.syllable,
        "marks": sorted(note.marks),
    }
