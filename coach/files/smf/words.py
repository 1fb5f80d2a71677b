"""Texts in MIDI files, and how Evenrun keeps in them what MIDI has no events for.

MIDI knows neither slurs nor syllables nor fingerings.  Files of ours carry them as meta events at
the tick of the note, in tracks that have the text `OURS` at their beginning: the syllable as a
lyric, and as texts "slur" (no tongue on this note), "accent" and "fingering T12".  Without `OURS`
such texts mean nothing, and lyrics are words to sing.
"""

from __future__ import annotations

from dataclasses import dataclass

from coach.files.smf.song import Track

# The number is that of this way of writing; ticks in such a track are exact.
OURS = "evenrun marks 1"
SLUR = "slur"
ACCENT = "accent"
FINGERING = "fingering "
# Longer than any title; keeps a broken file from filling the screen.
MOST_LETTERS = 200


@dataclass(frozen=True, slots=True)
class NoteWords:
    """What stands beside one note."""

    slurred: bool = False
    accent: bool = False
    fingering: str | None = None
    syllable: str | None = None


def plain_text(content: bytes) -> str:
    """The text in UTF-8, else in Latin-1 (MIDI says nothing of it), on one line."""
    try:
        text = content.decode("utf-8")
    except UnicodeDecodeError:
        text = content.decode("latin-1")
    shown = "".join(letter if letter.isprintable() else " " for letter in text)
    return " ".join(shown.split())[:MOST_LETTERS]


def is_ours(track: Track) -> bool:
    return bool(track.texts) and track.texts[0] == (0, OURS)


def words_by_tick(track: Track) -> dict[int, NoteWords]:
    """What stands beside the notes, by their tick; nothing where the track is not ours."""
    if not is_ours(track):
        return {}
    texts: dict[int, list[str]] = {}
    for tick, text in track.texts:
        texts.setdefault(tick, []).append(text)
    syllables = dict(track.lyrics)
    return {
        tick: _note_words(texts.get(tick, []), syllables.get(tick))
        for tick in texts.keys() | syllables.keys()
    }


def _note_words(texts: list[str], syllable: str | None) -> NoteWords:
    fingerings = [text.removeprefix(FINGERING) for text in texts if text.startswith(FINGERING)]
    return NoteWords(
        SLUR in texts, ACCENT in texts, fingerings[0] if fingerings else None, syllable or None
    )
