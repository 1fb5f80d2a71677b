"""ABC notation 2.1 (the open standard at abcnotation.com) to a score.

Read are voices of single notes and chords with all that says how they are played.  The first tune
of a file that has notes is the score.
"""

from __future__ import annotations

import html
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction

from coach.core.score.model import Frame, Meter, Score, Signs
from coach.errors import FileError
from coach.files.abc.bars import frames_of, part_of
from coach.files.abc.fields import lasting_of, meter_of, quoted_in, tempo_of, unit_of, usual_unit
from coach.files.abc.keys import Properties, key_of, voice_of
from coach.files.abc.music import MusicLine
from coach.files.abc.source import SourceRow, Tune, text_of, tunes_of
from coach.files.abc.stream import Event
from coach.files.abc.voice import Voice
from coach.files.abc.words import add_words

# No orchestra has more voices, no piece more bars.
MOST_VOICES = 64
MOST_BARS = 20_000
_TOLD = {
    "sign": "Signs that mean nothing here were passed over",
    "arrow": "Broken rhythms (> or <) that join no two notes were passed over",
    "tie": "Ties that begin on no note were passed over",
    "long overlay": "Overlays of several bars were read bar by bar",
    "slur": "Slurs without a beginning or an end were passed over",
    "words": "Lines of words that are no tonguing were left out",
    "parts": "The order of parts in P: is not played out; the tune is read as it stands",
    "macro": "Macros (m:) and symbols of one's own (U:) were passed over",
    "tempo": "Tempo marks that make no sense were passed over",
}


def read_abc(data: bytes, where: str) -> Score:
    """The first tune with notes; FileError with the line for anything that cannot be read."""
    tunes = tunes_of(text_of(data, where), where)
    for place, tune in enumerate(tunes):
        reader = _Reader(where)
        score = reader.score(tune)
        if score is not None:
            left = tunes[:place] + tunes[place + 1 :]
            return replace(score, remarks=(*score.remarks, *_others(left)))
    raise FileError("it has no notes", f"{where}, line {tunes[0].header[-1].number}", "write some")


def _others(tunes: list[Tune]) -> Iterator[str]:
    if tunes:
        names = ", ".join(_title(tune) or "one without a title" for tune in tunes[:5])
        more = f" and {len(tunes) - 5} more" if len(tunes) > 5 else ""
        yield f"The file has other tunes, which were not read: {names}{more}."


def _title(tune: Tune) -> str:
    texts = (row.text for row in tune.header if row.key == "T")
    return html.unescape(next(texts, "")).replace("\\%", "%")[:200]


class _Reader:
    """Reads one tune, row by row."""

    def __init__(self, where: str) -> None:
        self._where = where
        self._voices: dict[str, Voice] = {}
        self._declared: dict[str, Properties] = {}
        self._key = Properties()
        self._meter: Meter | None = None
        self._unit: Fraction | None = None
        self._tempo = ""
        self._lasting = "pitch"
        self._told: Counter[str] = Counter()
        self._line = MusicLine(self._field)
        self._under: list[tuple[Event, int]] = []

    def score(self, tune: Tune) -> Score | None:
        """None if the tune has no notes."""
        row = tune.header[-1]
        try:
            for row in tune.header:
                self._header_field(row)
            self._start()
            for row in tune.body:
                self._row(row)
            return self._made(_title(tune))
        except ValueError as error:
            raise FileError(
                str(error), f"{self._where}, line {row.number}", "mend this line"
            ) from None

    def _header_field(self, row: SourceRow) -> None:
        if row.key == "M":
            self._meter = meter_of(row.text)
        elif row.key == "L":
            self._unit = unit_of(row.text)
        elif row.key == "Q":
            self._tempo = row.text
        elif row.key == "K":
            self._key = key_of(row.text)
        elif row.key == "V":
            self._declare(*voice_of(row.text))
        elif row.key == "I":
            self._lasting = lasting_of(row.text) or self._lasting
        else:
            self._remark_on(row.key)

    def _remark_on(self, key: str) -> None:
        self._told["parts"] += key == "P"
        self._told["macro"] += key in ("m", "U")

    def _declare(self, name: str, properties: Properties) -> None:
        if len(self._declared) >= MOST_VOICES:
            raise ValueError(f"there are more than {MOST_VOICES} voices")
        self._declared.setdefault(name, properties)

    def _start(self) -> None:
        """All fields of the header known: the first voice begins."""
        if self._unit is None:
            self._unit = usual_unit(self._meter)
        for name in self._declared or ("1",):
            self._voice(name)
        self._line.voice = next(iter(self._voices.values()))
        self._set_tempo(self._tempo)
        self._told["parts"] = min(self._told["parts"], 1)

    def _voice(self, name: str) -> Voice:
        if name not in self._voices:
            if len(self._voices) >= MOST_VOICES:
                raise ValueError(f"there are more than {MOST_VOICES} voices")
            voice = Voice(name, self._unit or Fraction(1, 2), self._meter)
            voice.lasting = self._lasting
            voice.take(self._key)
            voice.take(self._declared.get(name, Properties()))
            self._voices[name] = voice
        return self._voices[name]

    def _row(self, row: SourceRow) -> None:
        if row.key == "w" or (row.key == "+" and self._under):
            self._words(row.text)
        elif row.key:
            self._field(row.key, row.text)
        else:
            self._line.read(row.text)

    def _field(self, key: str, text: str) -> None:
        """A field in the tune, on a line of its own or in brackets."""
        voice = self._line.voice
        if key == "V":
            self._switch(*voice_of(text))
        elif key == "K":
            voice.take(key_of(text))
        elif key == "M":
            voice.meter = meter_of(text)
        elif key == "L":
            voice.unit = unit_of(text)
        elif key == "Q":
            self._set_tempo(text)
        elif key == "I":
            voice.lasting = lasting_of(text) or voice.lasting
        elif key != "P":
            self._remark_on(key)

    def _switch(self, name: str, properties: Properties) -> None:
        """To another voice; one that is new begins with the first bar."""
        self._line.voice = self._voice(name)
        self._line.voice.take(properties)

    def _set_tempo(self, text: str) -> None:
        voice = self._line.voice
        voice.mark_words(" ".join(quoted_in(text)))
        try:
            quarter_bpm = tempo_of(text, voice.unit)
        except ValueError:
            self._told["tempo"] += 1
            return
        if quarter_bpm is not None:
            voice.mark(Event(Fraction(0), quarter_bpm=quarter_bpm))

    def _words(self, text: str) -> None:
        """Under the notes since the last words; a second line of words is another verse."""
        voice = self._line.voice
        if voice.told:
            self._under, voice.told = voice.told, []
        if not add_words(text, self._under):
            self._told["words"] += 1

    def _made(self, title: str) -> Score | None:
        voices = list(self._voices.values())
        for voice in voices:
            self._told += voice.finish()
        voices = [voice for voice in voices if voice.bars]
        if not any(stream.tones for voice in voices for stream in voice.streams.values()):
            return None
        self._told += self._line.passed
        if max(len(voice.bars) for voice in voices) > MOST_BARS:
            raise ValueError(f"there are more than {MOST_BARS} bars")
        frames = _coda_twice(frames_of(voices))
        parts = tuple(part_of(voice, len(frames)) for voice in voices)
        remarks = tuple(f"{_TOLD[kind]}: {n}." for kind, n in self._told.items() if n > 0)
        return Score(title, parts, frames, remarks)


def _coda_twice(frames: tuple[Frame, ...]) -> tuple[Frame, ...]:
    """Many files have the sign of the coda twice: where to leave, and where to go on."""
    places = [at for at, frame in enumerate(frames) if frame.signs.coda]
    if len(places) != 2 or any(frame.signs.to_coda for frame in frames):
        return frames
    leave = frames[places[0]]
    signs: Signs = replace(leave.signs, coda="", to_coda="coda")
    return tuple(
        replace(leave, signs=signs) if at == places[0] else f for at, f in enumerate(frames)
    )
