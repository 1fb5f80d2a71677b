"""One line of music code, sign by sign, into a voice."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable
from fractions import Fraction

from coach.files.abc.decorations import LETTERS, fingering_of, mark_of, sign_of
from coach.files.abc.fields import LONGEST_BEATS, length_of
from coach.files.abc.signs import A_LENGTH, ONE_NOTE, SIGN, turns_of
from coach.files.abc.stream import Tone
from coach.files.abc.voice import Voice

# The numbers of notes that default to 2 or 3 in the time of; 0: by the meter.  ABC 2.1, section
# 4.13, from memory.
_IN_TIME_OF = {2: 3, 3: 2, 4: 3, 5: 0, 6: 2, 7: 0, 8: 3, 9: 0}
MOST_REST_BARS = 1000
# An hour of semiquavers is some 30,000 notes.
MOST_SIGNS = 200_000


class MusicLine:
    """Reads lines; `field` is called for an inline field and may change the voice.

    ValueError (a sentence without the line) for what cannot be read; what is passed over is
    counted in `passed`, by kind.
    """

    def __init__(self, field: Callable[[str, str], None]) -> None:
        self._field = field
        self.passed: Counter[str] = Counter()
        self._signs = 0
        self.voice: Voice

    def read(self, text: str) -> None:
        at = 0
        while at < len(text):
            found = SIGN.match(text, at)
            if found is None:
                self._odd(text[at])
                at += 1
                continue
            at = self._take(found, text)

    def _odd(self, character: str) -> None:
        if character == '"':
            raise ValueError("a quotation mark is not closed")
        if character not in "!$\\":
            self.passed["sign"] += 1

    def _take(self, found: re.Match[str], text: str) -> int:
        """Reads one sign; where the next begins."""
        self._count()
        kind = found.lastgroup or ""
        groups = found.groupdict()
        if groups["chord"]:
            return self._chord(text, found.end())
        if groups["grace"]:
            return self._grace(text, found.end())
        if groups["note"]:
            self._note(found.group("note"))
        elif groups["bar"]:
            self._bar(groups["bar"], groups["turns"])
        elif groups["rest"]:
            self._rest(found.group("rest"), found.group(0)[1:])
        elif groups["key"]:
            self._field(groups["key"], groups["value"].strip())
        elif groups["ending"]:
            self.voice.begin_ending(turns_of(groups["ending"]))
        elif groups["bars"]:
            self._rest_bars(groups["bars"], groups["bar_count"])
        else:
            self._small(kind, found.group(0), groups)
        return found.end()

    def _count(self) -> None:
        self._signs += 1
        if self._signs > MOST_SIGNS:
            raise ValueError(f"there are more than {MOST_SIGNS} signs in one tune")

    def _small(self, kind: str, whole: str, groups: dict[str, str | None]) -> None:
        stream = self.voice.stream
        if kind == "tuplet":
            self._tuplet(whole[1:])
        elif kind == "slur":
            self._slur(whole)
        elif kind == "end":
            self._end(whole)
        elif kind == "arrows":
            self.passed["arrow"] += not stream.break_rhythm(whole)
        elif kind == "tie":
            self.passed["tie"] += not self.voice.tie()
        elif kind == "overlay":
            self.voice.overlay()
        elif kind == "letter":
            self._word(LETTERS.get(whole, ""))
        elif kind in ("word", "old_word"):
            self._word(groups[kind] or "")
        elif kind == "text":
            self._text(groups["text"] or "")

    def _text(self, text: str) -> None:
        """Over or under the notes: a fingering, or words of tempo; or nothing to us."""
        self.voice.stream.fingering = fingering_of(text) or self.voice.stream.fingering
        self.voice.mark_words(text)

    def _word(self, word: str) -> None:
        """A decoration: a mark on the next note, a sign of this bar, a finger; or nothing to us."""
        mark, sign = mark_of(word), sign_of(word)
        if sign:
            self.voice.bar.signs.add(sign)
        elif mark:
            self.voice.stream.marks.add(mark)
        elif fingering_of(word):
            self.voice.stream.fingering = fingering_of(word)

    def _slur(self, whole: str) -> None:
        if whole.endswith("&"):
            self.passed["long overlay"] += 1
        else:
            self.voice.stream.open_slur()

    def _end(self, whole: str) -> None:
        if not whole.startswith("&"):
            self.voice.stream.close_slur()

    def _note(self, text: str) -> None:
        self.voice.sound([self._tone(text)])

    def _tone(self, text: str) -> Tone:
        self._count()
        found = ONE_NOTE.match(text)
        assert found
        accidental, letter, octaves, *length = found.groups()
        written = self.voice.pitch(accidental, letter, octaves)
        return self.voice.tone(written, self._beats(length_of(*length)))

    def _beats(self, length: Fraction) -> Fraction:
        beats = length * self.voice.unit
        if beats > LONGEST_BEATS:
            raise ValueError("a length is longer than any note")
        return beats

    def _rest(self, kind: str, length: str) -> None:
        found = A_LENGTH.fullmatch(length)
        assert found
        self.voice.rest(self._beats(length_of(*found.groups())), kind == "z")

    def _rest_bars(self, kind: str, count: str | None) -> None:
        """Whole bars of rest, with bar lines between them."""
        if len(count or "") > 4 or not 1 <= int(count or 1) <= MOST_REST_BARS:
            raise ValueError(f"a rest of {(count or '')[:12]} bars is none that can be counted")
        meter = self.voice.meter
        beats = meter.bar_beats if meter else Fraction(4)
        for place in range(int(count or 1)):
            self._count()
            if place:
                self.voice.bar_line(0, 0, False)
            self.voice.rest(beats, kind == "Z")

    def _tuplet(self, text: str) -> None:
        notes, in_time_of, count = (*text.split(":"), "", "")[:3]
        if max(len(notes), len(in_time_of), len(count)) > 3:
            raise ValueError("a tuplet has senseless numbers")
        p = int(notes)
        q = int(in_time_of) if in_time_of else _IN_TIME_OF.get(p, 0) or self._by_meter()
        self.voice.stream.begin_tuplet(p, q, int(count) if count else p)

    def _by_meter(self) -> int:
        """3 in compound meters (6/8, 9/8, 12/8), else 2."""
        meter = self.voice.meter
        compound = meter is not None and meter.unit >= 8 and sum(meter.counts) in (6, 9, 12)
        return 3 if compound else 2

    def _bar(self, bar: str, turns: str | None) -> None:
        bars = bar.strip(".")
        if "|" not in bars:
            ends = starts = (len(bars) + 1) // 2
        else:
            ends = len(bars) - len(bars.lstrip(":"))
            starts = len(bars) - len(bars.rstrip(":"))
        strong = bool(ends or starts or bars.count("|") > 1 or set("[]") & set(bars))
        self.voice.bar_line(min(ends, 99), starts, strong)
        if turns:
            self.voice.begin_ending(turns_of(turns))

    def _chord(self, text: str, at: int) -> int:
        """Notes up to the bracket, with the length behind it; where the next sign begins."""
        tones: list[Tone] = []
        stream = self.voice.stream
        outside, stream.marks = stream.marks, set()
        while at < len(text) and text[at] != "]":
            found = SIGN.match(text, at)
            kind = found.lastgroup if found else None
            if found is None or found.group("bar") or found.group("grace"):
                raise ValueError("a chord is not closed")
            if found.group("note"):
                tones.append(self._inner(found.group("note")))
            elif kind == "tie" and tones:
                tones[-1].tied_on = True
            elif kind in ("slur", "end", "letter", "word", "text", "tuplet"):
                self._small(kind or "", found.group(0), found.groupdict())
            if len(tones) > 64:
                raise ValueError("a chord has more than 64 notes")
            at = found.end()
        if at >= len(text):
            raise ValueError("a chord is not closed")
        length = A_LENGTH.match(text, at + 1)
        assert length
        stream.marks = outside
        self._finish_chord(tones, length_of(*length.groups()))
        return length.end()

    def _inner(self, text: str) -> Tone:
        """A note of a chord, with the marks and the fingering that stand before it."""
        stream, tone = self.voice.stream, self._tone(text)
        tone.marks, tone.fingering = frozenset(stream.marks), stream.fingering
        stream.marks, stream.fingering = set(), None
        return tone

    def _finish_chord(self, tones: list[Tone], length: Fraction) -> None:
        for tone in tones:
            tone.length *= length
            self._beats(tone.length / self.voice.unit)
        if tones:
            self.voice.sound(tones)

    def _grace(self, text: str, at: int) -> int:
        """Grace notes up to the brace; where the next sign begins."""
        stream = self.voice.stream
        marks, stream.marks, finger, stream.fingering = stream.marks, set(), stream.fingering, None
        group: list[Tone] | None = None
        while at < len(text) and text[at] != "}":
            found = SIGN.match(text, at)
            kind = (found.lastgroup or "") if found else ""
            if found is None and text[at] == "]" and group:
                self.voice.grace(group)
                group = None
            elif found is None or found.group("bar") or found.group("grace"):
                raise ValueError("grace notes are not closed")
            elif found.group("chord"):
                group = []
            elif found.group("note"):
                self._grace_note(found.group("note"), group)
            elif kind in ("slur", "end"):
                self._small(kind, found.group(0), found.groupdict())
            at = found.end() if found else at + 1
        if at >= len(text):
            raise ValueError("grace notes are not closed")
        stream.marks, stream.fingering = marks, finger
        return at + 1

    def _grace_note(self, text: str, group: list[Tone] | None) -> None:
        tone = self._tone(text)
        if group is None:
            self.voice.grace([tone])
        else:
            group.append(tone)
