"""One voice in the making: its bars, and what holds for its next note."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from fractions import Fraction

from coach.core.pitch import Spelled
from coach.core.score.model import Meter
from coach.core.score.tempowords import LONGEST_TEXT, word_of
from coach.files.abc.keys import ALTERS, Properties, signature
from coach.files.abc.stream import Event, Stream, Tone

# A chord of more notes is no chord, a bar has no more overlays.
MOST_TONES = 64
MOST_OVERLAYS = 8


@dataclass(slots=True)
class VoiceBar:
    """Rows of events (the first, and overlays) with the signs around them.

    `mid`: no bar line stands before it, `after_sign`: a repeat or double bar does.
    """

    rows: dict[int, list[Event]] = field(default_factory=lambda: {0: []})
    meter: Meter | None = None
    mid: bool = False
    after_sign: bool = False
    forward: bool = False
    plays: int = 0
    endings: frozenset[int] = frozenset()
    begins_ending: bool = False
    signs: set[str] = field(default_factory=set)
    has_music: bool = False


# Signs that are read at the end of a bar.
LATE = ("capo", "segno-back", "fine", "to-coda")


@dataclass(slots=True)
class Voice:
    """`memory` holds the accidentals of this bar, for letter and octave, or with octave 0 for all,
    as `lasting` says ("octave", "pitch", or "not": on their own note only); `told` the notes since
    the last line of words, each with the number of its bar."""

    name: str
    unit: Fraction
    meter: Meter | None
    title: str | None = None
    alters: dict[str, int] = field(default_factory=lambda: signature(0))
    clef: str = "G"
    clef_octave: int = 0
    octave: int = 0
    transposition: int = 0
    lasting: str = "pitch"
    memory: dict[tuple[str, int], int] = field(default_factory=dict)
    streams: dict[int, Stream] = field(default_factory=lambda: {0: Stream()})
    row: int = 0
    bars: list[VoiceBar] = field(default_factory=list)
    bar: VoiceBar = field(default_factory=VoiceBar)
    endings: frozenset[int] = frozenset()
    told: list[tuple[Event, int]] = field(default_factory=list)

    @property
    def stream(self) -> Stream:
        return self.streams[self.row]

    def take(self, properties: Properties) -> None:
        """What K: or V: says."""
        if properties.fifths is not None and properties.alters is not None:
            self.alters = properties.alters
            self.memory.clear()
            self.mark(Event(Fraction(0), fifths=properties.fifths))
        self.title = properties.name if properties.name is not None else self.title
        self.clef = properties.clef or self.clef
        if properties.clef_octave is not None:
            self.clef_octave = properties.clef_octave
        if properties.octave is not None:
            self.octave = properties.octave
        if properties.transposition is not None:
            self.transposition = properties.transposition

    def mark(self, event: Event) -> None:
        """A change of key or tempo, here."""
        self.bar.rows[self.row].append(event)

    def mark_words(self, text: str) -> None:
        """Words of tempo, here; no others."""
        if word_of(text):
            self.mark(Event(Fraction(0), tempo_words=text.lstrip("^_<>@")[:LONGEST_TEXT].strip()))

    def pitch(self, accidental: str | None, letter: str, octaves: str) -> Spelled:
        """The written pitch; an accidental lasts to the end of the bar for its letter and octave,
        and over a bar line along a tie.  ValueError if no instrument has it."""
        upper = letter.upper()
        octave = 4 + (letter != upper) + octaves.count("'") - octaves.count(",")
        octave += self.octave + self.clef_octave
        written = Spelled(upper, self._alter(accidental, upper, octave), octave)
        if not (0 <= written.midi <= 127 and 0 <= written.midi + self.transposition <= 127):
            raise ValueError(f"no instrument has the note {upper} in octave {octave}")
        return written

    def _alter(self, accidental: str | None, letter: str, octave: int) -> int:
        place = (letter, 0 if self.lasting == "pitch" else octave)
        if accidental and self.lasting != "not":
            self.memory[place] = ALTERS[accidental]
        if accidental:
            return ALTERS[accidental]
        tied = self.stream.tied.get((letter, octave))
        return self.memory.get(place, tied.written.alter if tied else self.alters[letter])

    def tone(self, written: Spelled, length: Fraction) -> Tone:
        return Tone(written, length, self.transposition, self.clef, self.stream.count)

    def sound(self, tones: list[Tone]) -> None:
        """A note or a chord; a chord lasts as long as its first note."""
        if len(tones) > MOST_TONES:
            raise ValueError(f"a chord has more than {MOST_TONES} notes")
        stream = self.stream
        event = Event(tones[0].length, tones)
        for tone in tones:
            tone.marks |= frozenset(stream.marks)
            tone.fingering = tone.fingering or stream.fingering
        for tone in tones[1:]:
            tone.chord = True
        stream.marks, stream.fingering = set(), None
        event.stretch(stream.factor())
        self._tie(tones)
        self._append(event)
        stream.tones += tones
        stream.count += 1
        if self.row == 0:
            self.told.append((event, len(self.bars)))

    def _tie(self, tones: list[Tone]) -> None:
        stream = self.stream
        for tone in tones:
            place = (tone.written.letter, tone.written.octave)
            before = stream.tied.get(place)
            tone.tied_back = before is not None and before.written == tone.written
        stream.tied = {}
        for tone in tones:
            if tone.tied_on:
                stream.tied[tone.written.letter, tone.written.octave] = tone

    def tie(self) -> bool:
        """A tie after the last note; False if there is none."""
        event = self.stream.last
        if event is None or not event.tones:
            return False
        for tone in event.tones:
            tone.tied_on = True
            self.stream.tied[tone.written.letter, tone.written.octave] = tone
        return True

    def grace(self, tones: list[Tone]) -> None:
        """One grace note, or a chord of them.  It is not counted: a slur that begins on it makes
        the note after it no slurred one, as that follows no note of its slur that takes time."""
        if len(tones) > MOST_TONES:
            raise ValueError(f"a chord has more than {MOST_TONES} notes")
        for place, tone in enumerate(tones):
            tone.grace, tone.length, tone.chord = True, Fraction(0), place > 0
        self.stream.tones += tones
        self._append_untimed(Event(Fraction(0), tones))

    def rest(self, length: Fraction, printed: bool) -> None:
        event = Event(length * self.stream.factor(), printed=printed)
        self.stream.tied = {}
        self._append(event)

    def _append(self, event: Event) -> None:
        self._append_untimed(event)
        self.stream.last = event

    def _append_untimed(self, event: Event) -> None:
        if not self.bar.has_music:
            self.bar.meter = self.meter
        self.bar.has_music = True
        self.bar.rows[self.row].append(event)

    def overlay(self) -> None:
        """Back to the start of the bar, with another row."""
        self.row += 1
        if self.row > MOST_OVERLAYS:
            raise ValueError(f"a bar has more than {MOST_OVERLAYS} overlays")
        self.streams.setdefault(self.row, Stream())
        self.bar.rows.setdefault(self.row, [])

    def bar_line(self, ends: int, starts: int, strong: bool) -> None:
        """A bar line with so many dots before and after it; `strong`: a repeat or double bar."""
        if self.bar.has_music:
            self._close(ends)
        else:
            self._sign_back()
            if ends and self.bars:
                self.bars[-1].plays = max(self.bars[-1].plays, ends + 1)
        if strong:
            self.endings = self.bar.endings = frozenset()
            self.bar.after_sign = True
        self.bar.mid = False
        self.bar.forward |= starts > 0
        self.memory.clear()
        self.row = 0

    def _close(self, ends: int) -> None:
        self.bar.plays = ends + 1 if ends else 0
        self.bars.append(self.bar)
        self.bar = VoiceBar(endings=self.endings)
        for stream in self.streams.values():
            stream.end_bar()

    def _sign_back(self) -> None:
        """What is read at the end of a bar belongs to the bar before, if this one is empty."""
        late = {sign for sign in self.bar.signs if sign in LATE}
        if late and self.bars:
            self.bars[-1].signs |= late
            self.bar.signs -= late

    def begin_ending(self, turns: frozenset[int]) -> None:
        """An ending begins here, with or without a bar line before it."""
        if self.bar.has_music:
            self._close(0)
            self.bar.mid = True
            self.row = 0
        self.endings = self.bar.endings = turns
        self.bar.begins_ending = True

    def finish(self) -> Counter[str]:
        """Ends the last bar; what was left over, by kind."""
        if self.bar.has_music:
            self._close(0)
        else:
            self._sign_back()
        return sum((stream.finish() for stream in self.streams.values()), Counter())
