"""One part, bar by bar: its notes in their places, and what it says of the common bars."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable
from fractions import Fraction
from xml.etree.ElementTree import Element

from coach.core.score.model import Head, Meter, PartBar
from coach.files.musicxml import limits, said
from coach.files.musicxml.frames import FrameDraft
from coach.files.musicxml.lengths import Clock, given_beats
from coach.files.musicxml.notes import HeadDraft, Read, drafted, read_note, settle
from coach.files.musicxml.place import Place
from coach.files.musicxml.slurs import SlurEnd, When, slurred_notes
from coach.files.musicxml.state import State
from coach.files.musicxml.values import number_in

_ZERO = Fraction(0)


class _Bar:
    """What has been read of one bar."""

    def __init__(self) -> None:
        self.drafts: list[HeadDraft] = []
        self.voices: dict[tuple[int, str], None] = {}
        self.keys: tuple[tuple[Fraction, int], ...] = ()
        self.copied_from = 0  # how many bars back


class PartReader:
    """Reads the bars of one part in their order; `bars` are its part of the score."""

    def __init__(self, place: Place) -> None:
        self.state = State()
        self.notes = 0  # notes and rests
        self.unpitched = 0
        self._place = place
        self._bars: list[_Bar] = []
        self._slurs: list[SlurEnd] = []
        self._clock = Clock(place)
        self._onset = _ZERO
        self._group = 0
        self._late_meter: Meter | None = None
        self._dashes: set[str] = set()  # the numbers of lines behind words of tempo
        self._reads: dict[str, Callable[[Element, FrameDraft], None]] = {
            "note": self._note,
            "backup": self._backup,
            "forward": self._forward,
            "attributes": self._attributes,
            "direction": self._direction,
            "sound": self._lone_sound,
        }

    @property
    def transposition(self) -> int:
        first = self.state.first_interval
        return first.semitones if first else 0

    @property
    def read_bars(self) -> int:
        return len(self._bars)

    def read(self, content: Element, frame: FrameDraft) -> None:
        """Read the next bar; what holds for all parts goes into `frame`."""
        self._clock = Clock(self._place)
        self._onset, self._group = _ZERO, 0
        self._bars.append(_Bar())
        self.state.begin_bar()
        self._meter(frame, self._late_meter)
        self._late_meter = None
        for element in content:
            reads = self._reads.get(element.tag)
            if reads is not None:
                reads(element, frame)
        self._end(frame)

    def skip_to(self, index: int) -> None:
        """The part has nothing in the bars before this one."""
        while len(self._bars) < index:
            self._bars.append(_Bar())

    def _end(self, frame: FrameDraft) -> None:
        bar = self._bars[-1]
        for draft in bar.drafts:
            settle(draft, self.state, self._place)
        bar.keys = tuple(sorted(self.state.keys))
        if not bar.drafts and self.state.repeated_bars < len(self._bars):
            bar.copied_from = self.state.repeated_bars
        for at, meter in self.state.meters:
            if at:  # of a meter that changes inside the bar the next bar is the first
                self._late_meter = meter
            else:
                self._meter(frame, meter)
        frame.length = max(frame.length, self._clock.furthest)
        self.state.end_bar()

    @staticmethod
    def _meter(frame: FrameDraft, meter: Meter | None) -> None:
        """The first part that has one decides."""
        frame.meter = frame.meter or meter

    def _note(self, note: Element, _frame: FrameDraft) -> None:
        read = read_note(note, self.state, self._place)
        self.notes += 1
        if not (read.chord and self._group):
            self._onset = self._clock.exact
            self._group += 1
            self._clock.forward(read.raw, self._in_bar(read))
        bar = self._bars[-1]
        if read.present:
            bar.voices[read.staff, read.voice] = None
        if read.pitched:
            draft = drafted(note, read, self._onset, self._group, self._place)
            self._add(bar, draft)
        elif "unpitched" in read.tags:
            self.unpitched += 1

    def _in_bar(self, read: Read) -> Fraction:
        """A rest over the whole bar is no longer than the bar, whatever its duration says."""
        rest = read.tags.get("rest")
        if rest is None or rest.get("measure") != "yes" or not self.state.metered:
            return read.exact
        return min(read.exact, self.state.meter.bar_beats)

    def _add(self, bar: _Bar, draft: HeadDraft) -> None:
        before = bar.drafts[-1].group if bar.drafts else 0
        draft.chord = draft.chord and before == draft.group
        bar.drafts.append(draft)
        when = (len(self._bars) - 1, draft.onset, draft.group)
        for number, begins in draft.notations.slurs:
            self._slurs.append(SlurEnd(when, begins, number, draft.voice))

    def _backup(self, backup: Element, _frame: FrameDraft) -> None:
        self._clock.back(self._moved(backup))

    def _forward(self, forward: Element, _frame: FrameDraft) -> None:
        beats = self._moved(forward)
        self._clock.forward(beats, beats)

    def _moved(self, element: Element) -> Fraction:
        return given_beats(element.findtext("duration"), self.state.divisions, self._place)

    def _attributes(self, attributes: Element, _frame: FrameDraft) -> None:
        self.state.read(attributes, self._clock.exact, self._place)

    def _direction(self, direction: Element, frame: FrameDraft) -> None:
        at = self._moved_by_offset(direction)
        group = frame.next_group()
        sound = direction.find("sound")
        if sound is not None:
            self._sound(sound, frame, at, group)
        for kind in direction.iterfind("direction-type"):
            self._signs(kind, at, frame, group)
        self._tempo_words(direction, at, frame)

    def _lone_sound(self, sound: Element, frame: FrameDraft) -> None:
        self._sound(sound, frame, self._moved_by_offset(sound), frame.next_group())

    def _sound(self, sound: Element, frame: FrameDraft, at: Fraction, group: int) -> None:
        frame.marks.extend(said.sound_marks(sound, at, group))
        frame.tempos.extend(said.sound_tempo(sound, at, self._place))
        if sound.get("forward-repeat") == "yes":
            frame.forward = True

    def _signs(self, kind: Element, at: Fraction, frame: FrameDraft, group: int) -> None:
        texts = []
        for sign in kind:
            if sign.tag in ("segno", "coda"):
                frame.marks.append(said.JumpMark(sign.tag, sign.tag, said.SIGN, at, group))
            elif sign.tag == "words":
                texts.append(sign.text or "")
            elif sign.tag == "metronome":
                frame.tempos.extend(said.metronome_tempo(sign, at, self._place))
        if texts:
            frame.marks.extend(said.word_marks(" ".join(texts), at, group))

    def _tempo_words(self, direction: Element, at: Fraction, frame: FrameDraft) -> None:
        text = said.tempo_words(direction)
        lines = [(line.get("type"), line.get("number", "1")) for line in direction.iter("dashes")]
        ended = self._dashes & {number for kind, number in lines if kind == "stop"}
        if text:
            self._dashes |= {number for kind, number in lines if kind == "start"}
        self._dashes -= ended
        found = [text] * bool(text) + [""] * bool(ended)
        if len(frame.words) < limits.MAX_TEMPO_WORDS:
            frame.words.extend((at, one) for one in found)

    def _moved_by_offset(self, element: Element) -> Fraction:
        offset = number_in(element, "offset")
        if not offset:
            return self._clock.exact
        return max(_ZERO, self._clock.exact + offset / self.state.divisions)

    def bars(self, count: int) -> tuple[PartBar, ...]:
        """All `count` bars of the score as far as this part has them, and empty ones."""
        self._mark_slurs()
        made: list[PartBar] = []
        for bar in self._bars:
            if bar.copied_from:
                source = made[-bar.copied_from]
                made.append(PartBar(source.heads, source.voices, bar.keys))
            else:
                heads = tuple(_head(d) for d in sorted(bar.drafts, key=lambda d: d.onset))
                made.append(PartBar(heads, tuple(bar.voices), bar.keys))
        made.extend([PartBar()] * (count - len(made)))
        return tuple(made)

    def _mark_slurs(self) -> None:
        if not self._slurs:
            return
        notes: defaultdict[str, list[When]] = defaultdict(list)
        for index, bar in enumerate(self._bars):
            for draft in bar.drafts:
                notes[draft.voice].append((index, draft.onset, draft.group))
        covered = slurred_notes(notes, self._slurs)
        for index, bar in enumerate(self._bars):
            for draft in bar.drafts:
                draft.slurred = (index, draft.onset, draft.group) in covered[draft.voice]


def _head(draft: HeadDraft) -> Head:
    return Head(
        onset=draft.onset,
        length=draft.length,
        written=draft.written or draft.printed,
        transposition=draft.transposition,
        voice=draft.voice,
        staff=draft.staff,
        clef=draft.clef,
        grace=draft.grace,
        chord=draft.chord,
        tied_back=draft.ties[0],
        tied_on=draft.ties[1],
        slurred=draft.slurred,
        marks=draft.notations.marks,
        fingering=draft.notations.fingering,
        syllable=draft.syllable,
    )
