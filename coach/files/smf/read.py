"""A MIDI file as a score: parts in sounding pitch, cut into bars.

A part is what one channel has in one track.  Channel 10 is percussion and left out, unless there
is nothing else.  MIDI tells keys and sounding pitches, so written = sounding here, spelled in the
key; controllers, pedals, bends and velocities are not read.  How ticks become beats: `grid`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cache

from coach.core.pitch import Spelled, name_of_midi
from coach.core.score.model import Head, Meter, Part, PartBar, Score
from coach.errors import FileError
from coach.files.smf.bars import Bars, bars_of, cut, frames_of
from coach.files.smf.grid import Struck, exactly_struck, struck
from coach.files.smf.keyswitch import without_key_switches
from coach.files.smf.reading import no_notes, song_of
from coach.files.smf.song import DEFAULT_QUARTER_US, DRUMS, Song, SongNote, Track
from coach.files.smf.words import NoteWords, is_ours, words_by_tick

# The largest orchestral scores have some 60 parts.
MOST_PARTS = 256
# All notes of a file, each cut at some bar lines; more comes of notes held over thousands of bars.
MOST_HEADS = 400_000
# Nothing is counted in quarters this fast; sequencers write such marks to jump in time.
FASTEST_QPM = 1200.0
# What is said of a part without anything beside it.
_NO_WORDS = NoteWords()
_VOICES = ((1, "1"),)
_EMPTY_BAR = PartBar(voices=_VOICES)


@dataclass(frozen=True, slots=True)
class _Voice:
    """One part to be: the notes as they are on paper, and the keys it is in (beat, fifths)."""

    track: Track
    channel: int
    notes: Sequence[Struck]
    keys: Sequence[tuple[Fraction, int]]


def read_smf(data: bytes, where: str) -> Score:
    """The score in the bytes of a MIDI file; FileError says what is wrong, track and byte."""
    song = song_of(data, where)
    if song.kind == 2:
        song = replace(song, tracks=tuple(_one_after_another(song)))
    chosen, remarks = _chosen(song, where)
    voices, more = _voices(song, chosen)
    bars = _bars(song, voices, where)
    tempos, too_fast = _tempos(song)
    return Score(
        _title(song),
        tuple(_parts(voices, bars, where)),
        frames_of(bars, tempos),
        (*song.remarks, *remarks, *more, *too_fast),
        sounding_only=True,
    )


def _one_after_another(song: Song) -> Iterator[Track]:
    """The sequences of format 2, each moved behind the one before, with its own bars and tempo."""
    start = 0
    for track in song.tracks:
        yield replace(
            track,
            sounds=tuple(
                SongNote(s.channel, s.pitch, s.on + start, s.off + start) for s in track.sounds
            ),
            tempos=((start, DEFAULT_QUARTER_US), *((start + t, us) for t, us in track.tempos)),
            meters=((start, 4, 4), *((start + t, count, unit) for t, count, unit in track.meters)),
            keys=tuple((start + tick, fifths) for tick, fifths in track.keys),
        )
        start += track.end


def _chosen(song: Song, where: str) -> tuple[list[tuple[Track, int]], list[str]]:
    """Which channels of which tracks become parts."""
    every = [(track, channel) for track in song.tracks for channel in track.channels]
    pitched = [(track, channel) for track, channel in every if channel != DRUMS]
    if not every:
        raise no_notes(where)
    chosen = pitched or every
    if len(chosen) > MOST_PARTS:
        raise FileError(
            f"it has {len(chosen):,} parts, more than the {MOST_PARTS} of any score",
            where,
            "leave out the tracks that you don't need",
        )
    left_out = len(every) - len(chosen)
    return chosen, [f"Percussion (channel 10) was left out: {left_out}."] if left_out else []


def _voices(song: Song, chosen: Sequence[tuple[Track, int]]) -> tuple[list[_Voice], list[str]]:
    quarter = song.division.ticks_a_quarter
    made, remarks = [], []
    for track, channel in chosen:
        sounds = [sound for sound in track.sounds if sound.channel == channel]
        kept, switches = without_key_switches(sounds)
        if switches:
            remarks.append(f"{_name(track, channel)}: {switches} key-switches were left out.")
        notes = (exactly_struck if is_ours(track) else struck)(kept, quarter)
        made.append(_Voice(track, channel, notes, _keys(song, track)))
    return made, remarks


def _keys(song: Song, track: Track) -> list[tuple[Fraction, int]]:
    """The track's own keys, else those of the first track, which serve all."""
    keys = track.keys or (song.tracks[0].keys if song.kind < 2 else ())
    quarter = song.division.ticks_a_quarter
    made: list[tuple[Fraction, int]] = []
    for tick, fifths in sorted(dict(keys).items()):
        if not made or made[-1][1] != fifths:
            made.append((Fraction(tick) / quarter, fifths))
    return made


def _bars(song: Song, voices: Sequence[_Voice], where: str) -> Bars:
    quarter = song.division.ticks_a_quarter
    meters = [
        (Fraction(tick) / quarter, Meter((count,), unit))
        for track in song.tracks
        for tick, count, unit in track.meters
    ]
    notes_end = max(note.end for voice in voices for note in voice.notes)
    end = max(Fraction(track.end) / quarter for track in song.tracks)
    return bars_of(meters, notes_end, end, where)


def _tempos(song: Song) -> tuple[list[tuple[Fraction, float]], list[str]]:
    """Tempo marks as (beat, quarters a minute), and remarks; a time code runs at 120."""
    if song.division.real_time:
        remark = "The file counts time code, not beats: a quarter note is taken as half a second."
        return [(Fraction(0), 120.0)], [remark]
    every = sorted((tempo for track in song.tracks for tempo in track.tempos), key=lambda t: t[0])
    quarter = song.division.ticks_a_quarter
    # A hundredth is finer than a microsecond a quarter note tells apart at fast tempi.
    marks = [(Fraction(t) / quarter, round(60e6 / us, 2)) for t, us in dict(every).items()]
    kept = [mark for mark in marks if mark[1] <= FASTEST_QPM]
    lost = len(marks) - len(kept)
    return kept, [f"Tempo marks beyond {FASTEST_QPM:g} were left out: {lost}."] if lost else []


def _title(song: Song) -> str:
    """The name of the sequence stands as that of the first track, where that is not a part."""
    first = song.tracks[0]
    return first.name if song.kind == 0 or not first.sounds or len(song.tracks) == 1 else ""


def _name(track: Track, channel: int) -> str:
    name = track.name or track.instrument or f"track {track.number}"
    return name if len(track.channels) == 1 else f"{name}, channel {channel + 1}"


def _parts(voices: Sequence[_Voice], bars: Bars, where: str) -> Iterator[Part]:
    heads_left = MOST_HEADS
    for voice in voices:
        heads: dict[int, list[Head]] = {}
        for bar, head in _heads(voice, bars):
            heads.setdefault(bar, []).append(head)
            heads_left -= 1
            if heads_left < 0:
                raise FileError(
                    f"it makes more than {MOST_HEADS:,} printed notes, too many for a score",
                    f"{where}, track {voice.track.number}",
                    "look for chords held over thousands of bars",
                )
        program = voice.track.programs.get(voice.channel)
        sound = "" if program is None else f"program {program}"
        part_bars = _part_bars(heads, voice, bars)
        yield Part(_name(voice.track, voice.channel), part_bars, sound=sound)


def _part_bars(heads: dict[int, list[Head]], voice: _Voice, bars: Bars) -> tuple[PartBar, ...]:
    keys: dict[int, list[tuple[Fraction, int]]] = {}
    for beat, fifths in voice.keys:
        if beat < bars.end:
            place = bars.place(beat)
            keys.setdefault(place, []).append((beat - bars.starts[place], fifths))
    return tuple(
        PartBar(tuple(heads.get(place, ())), _VOICES, tuple(keys.get(place, ())))
        if place in heads or place in keys
        else _EMPTY_BAR
        for place in range(len(bars.starts))
    )


def _heads(voice: _Voice, bars: Bars) -> Iterator[tuple[int, Head]]:
    """(bar, head) for every printed note, in order of time."""
    words = words_by_tick(voice.track)
    keys, fifths = list(reversed(voice.keys)), 0
    for note in voice.notes:
        while keys and keys[-1][0] <= note.onset:
            fifths = keys.pop()[1]
        yield from _pieces(note, fifths, words.get(note.tick, _NO_WORDS), bars)


def _pieces(note: Struck, fifths: int, words: NoteWords, bars: Bars) -> Iterator[tuple[int, Head]]:
    """The heads of one note or chord, tied over bar lines; words stand at the first."""
    for bar, onset, length in cut(bars, note.onset, note.end):
        starts = bars.starts[bar] + onset
        for pitch in note.pitches:
            head = Head(
                onset,
                length,
                spelled(pitch, fifths < 0),
                tied_back=starts > note.onset,
                tied_on=starts + length < note.end,
            )
            yield bar, head if starts > note.onset else _with_words(head, words)


def _with_words(head: Head, words: NoteWords) -> Head:
    if words is _NO_WORDS:
        return head
    return replace(
        head,
        slurred=words.slurred,
        marks=frozenset(["accent"]) if words.accent else frozenset(),
        fingering=words.fingering,
        syllable=words.syllable,
    )


@cache
def spelled(midi: int, flats: bool) -> Spelled:
    """A sounding pitch with its name, with flats or with sharps."""
    name = name_of_midi(midi, -1 if flats else 0)
    alter = {"#": 1, "b": -1}.get(name[1], 0)
    return Spelled(name[0], alter, midi // 12 - 1)
