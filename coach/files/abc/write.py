"""A passage as ABC notation 2.1: written pitch, exact lengths, slurs, syllables, fingerings."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from coach.core.instrument import Instrument
from coach.core.passage import BarSpan, Passage
from coach.core.patterns.layout import meters_as_long, pulse_of_meter
from coach.core.pitch import Spelled, written_of_sounding
from coach.core.spelling import spelled
from coach.files.abc.keys import signature
from coach.files.abc.pieces import Piece, pieces_by_bar

BARS_A_LINE = 4
MAJOR_KEYS = ("Cb", "Gb", "Db", "Ab", "Eb", "Bb", "F", "C", "G", "D", "A", "E", "B", "F#", "C#")
_ACCIDENTALS = {-2: "__", -1: "_", 0: "=", 1: "^", 2: "^^"}
_ALL_OCTAVES = 99
_UNITS = (1, 2, 4, 8, 16, 32, 64)
MOST_COUNTS = 9999
# Written notes below this in the mean are easier to read in the bass clef (the A below middle C).
_BASS_CLEF_BELOW = 57


def abc_text(passage: Passage, instrument: Instrument, tempo_bpm: float) -> str:
    """One tune; `tempo_bpm` counts clicks of `passage.pulse_beats`.

    A slur onto the very first note is left out: there is nothing that it could join.
    """
    pieces = pieces_by_bar(passage)
    unit = _unit(pieces)
    writer = _Writer(passage, instrument, unit)
    return "\n".join((*_header(passage, instrument, tempo_bpm, unit), *writer.lines(pieces), ""))


def _header(
    passage: Passage, instrument: Instrument, tempo_bpm: float, unit: Fraction
) -> list[str]:
    title = " ".join(passage.title.split()).replace("%", "\\%")
    first, pulse = passage.bars[0], passage.pulse_beats / 4
    key = f"K:{MAJOR_KEYS[_fifths(passage) + 7]}"
    if _bass(passage, instrument):
        key += " clef=bass"
    if instrument.transposition:
        key += f" transpose={instrument.transposition}"
    made = ["X:1", f"T:{title}", f"M:{_meter(first)}", f"L:{unit / 4}"]
    tempo = f"{tempo_bpm:.3f}".rstrip("0").rstrip(".")
    return [*made, f"Q:{pulse.numerator}/{pulse.denominator}={tempo}", key]


def _fifths(passage: Passage) -> int:
    """The key; one beyond seven sharps or flats has no signature and is written without."""
    return passage.fifths if abs(passage.fifths) <= 7 else 0


def _bass(passage: Passage, instrument: Instrument) -> bool:
    pitches = [written_of_sounding(n.pitch, instrument.transposition) for n in passage.notes]
    return bool(pitches) and sum(pitches) < _BASS_CLEF_BELOW * len(pitches)


def _meter(bar: BarSpan) -> str:
    """The meter with this length and click; if there is none, with this length; else "none"."""
    length = bar.end_beats - bar.start_beats
    fits = meters_as_long(length, bar.pulse_beats, _UNITS, MOST_COUNTS)
    right = [meter for meter in fits if pulse_of_meter(*meter) == bar.pulse_beats]
    usual = [meter for meter in fits if meter[1] >= 4]
    return next((f"{count}/{unit}" for count, unit in right or usual), "none")


def _unit(bars: Sequence[Sequence[Piece]]) -> Fraction:
    """The plain length that most notes are near: an eighth, or shorter where these are many."""
    lengths = sorted(piece.written for bar in bars for piece in bar if piece.note)
    middle = lengths[len(lengths) // 2] if lengths else Fraction(1, 2)
    return next((u for u in (Fraction(1, 2), Fraction(1, 4)) if middle >= u), Fraction(1, 8))


class _Writer:
    """Writes bars in order; remembers the accidentals of the bar."""

    def __init__(self, passage: Passage, instrument: Instrument, unit: Fraction) -> None:
        self._passage = passage
        self._names = spelled(passage, instrument.transposition)
        self._unit = unit
        self._key = signature(_fifths(passage))
        self._memory: dict[tuple[str, int], int] = {}
        self._words = any(note.syllable for note in passage.notes)

    def lines(self, bars: Sequence[Sequence[Piece]]) -> list[str]:
        """Four bars a line, each line with its words where the passage has any."""
        made: list[str] = []
        texts = [self._bar(k, pieces) for k, pieces in enumerate(bars)]
        for start in range(0, len(bars), BARS_A_LINE):
            end = min(start + BARS_A_LINE, len(bars))
            closing = " |]" if end == len(bars) else " |"
            made.append(" | ".join(texts[start:end]) + closing)
            if self._words:
                made.append(_words([piece for bar in bars[start:end] for piece in bar]))
        return made

    def _bar(self, at: int, pieces: Sequence[Piece]) -> str:
        bars = self._passage.bars
        self._memory.clear()
        text = ""
        if at and _meter(bars[at]) != _meter(bars[at - 1]):
            text = f"[M:{_meter(bars[at])}] "
        for piece in pieces:
            on_beat = piece.onset % bars[at].pulse_beats == 0
            text += (" " if piece.onset and on_beat else "") + self._piece(piece)
        return text

    def _piece(self, piece: Piece) -> str:
        length = _length(piece.written / self._unit)
        tuplet = _tuplet(piece.tuplet)
        note = piece.note
        if note is None:
            return f"{tuplet}z{length}"
        before = "(" if piece.first and self._begins_slur(piece.place) else ""
        before += tuplet
        if piece.first:
            before += f'"^{note.fingering}"' if note.fingering else ""
            before += "!accent!" if note.accent else ""
        tie = "" if piece.last else "-"
        after = ")" if piece.last and self._ends_slur(piece.place) else ""
        return before + self._pitch(self._names[piece.place]) + length + tie + after

    def _slurred(self, place: int) -> bool:
        notes = self._passage.notes
        return 0 < place < len(notes) and notes[place].slurred

    def _begins_slur(self, place: int) -> bool:
        return self._slurred(place + 1) and not self._slurred(place)

    def _ends_slur(self, place: int) -> bool:
        return self._slurred(place) and not self._slurred(place + 1)

    def _pitch(self, name: Spelled) -> str:
        """The written note, with an accidental where key and bar do not say it, whether readers
        let an accidental last for its own octave or for all."""
        places = ((name.letter, name.octave), (name.letter, _ALL_OCTAVES))
        accidental = ""
        if any(self._memory.get(p, self._key[name.letter]) != name.alter for p in places):
            accidental = _ACCIDENTALS[name.alter]
            self._memory.update((place, name.alter) for place in places)
        if name.octave >= 5:
            return accidental + name.letter.lower() + "'" * (name.octave - 5)
        return accidental + name.letter + "," * (4 - name.octave)


def _tuplet(tuplet: tuple[int, int, int] | None) -> str:
    if tuplet is None:
        return ""
    return "(3" if tuplet == (3, 2, 3) else "({}:{}:{}".format(*tuplet)


def _length(units: Fraction) -> str:
    if units == 1:
        return ""
    if units.denominator == 1:
        return str(units.numerator)
    above = "" if units.numerator == 1 else str(units.numerator)
    return f"{above}/" + ("" if units.denominator == 2 else str(units.denominator))


def _words(pieces: Sequence[Piece]) -> str:
    """The syllables of one line, "*" for a note without one and for the rest of a tied one."""
    notes = [piece for piece in pieces if piece.note]
    return "w:" + " ".join((p.note.syllable if p.note and p.first else None) or "*" for p in notes)
