"""What the kinds of a [passage] table share: meter, rhythm, slurs, syllables, keys and pitches."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction

from coach.core.passage import MeterChange
from coach.core.patterns import keys as scales
from coach.core.patterns import lines
from coach.core.patterns.keys import Mode
from coach.core.patterns.layout import Layout, pulse_of_meter
from coach.core.pitch import midi_of_name
from coach.files.notewords import LENGTH_FORM, beats_of, is_syllable
from coach.files.toml import Table

PITCH_FORM = 'a written note such as "G4", "F#3" or "Bb5"'
KEYS_FORM = '"all" or a list of keys such as ["C", "Bb", "F#"]'
KEY_FORM = 'a key such as "F", "F# major" or "D minor"'
METERS_FORM = (
    'a list of meters that begin at later bars, in order, such as ["5: 3/4", "9: 6/8"]: the number'
    " of the bar, then the meter"
)
METER_FORM = 'a meter such as "4/4", "3/4" or "6/8" (1 to 16 over 2, 4, 8 or 16)'
_BAR = re.compile(r"[0-9]{1,3}")


def keys_of(table: Table, mode: Mode) -> tuple[str, ...]:
    if table.get("keys", None, KEYS_FORM) == "all":
        return scales.all_keys(mode)
    names = table.texts("keys", allowed=KEYS_FORM)
    for place, name in enumerate(names):
        try:
            scales.place_of_key(name)
        except ValueError:
            raise table.wrong_entry("keys", place, "a key such as C, Bb or F#") from None
    return names


def layout_of(table: Table) -> Layout:
    if "rhythm" in table and "note_value" in table:
        raise table.wrong("rhythm", f"left out where {table.name}.note_value is given")
    if "rhythm" in table:
        texts = table.texts("rhythm", allowed=f"a list, each {LENGTH_FORM}")
        rhythm = tuple(_beats(table, "rhythm", text, place) for place, text in enumerate(texts))
    else:
        rhythm = (length_of(table, "note_value", "1/16"),)
    return replace(
        meter_of(table),
        rhythm_beats=rhythm,
        slur_groups=_slur_groups(table),
        syllables=_syllables(table),
        hold=holds(table),
    )


def meter_of(table: Table) -> Layout:
    """A layout that knows no more than the meter."""
    meter = _meter(table.text("meter", "4/4"))
    if meter is None:
        raise table.wrong("meter", METER_FORM)
    return Layout((), *meter)


def _meter(text: str) -> tuple[Fraction, Fraction] | None:
    """The length of a bar and of a click in quarter notes; None if it is no meter."""
    count, _, unit = text.strip().partition("/")
    if not (count.isdecimal() and unit in ("2", "4", "8", "16") and 1 <= int(count[:4]) <= 16):
        return None
    return Fraction(4 * int(count), int(unit)), pulse_of_meter(int(count), int(unit))


def changes_of(table: Table, bar_beats: Fraction, first_bar: int) -> tuple[MeterChange, ...]:
    """The meters of later bars, after bars of `bar_beats`: "5: 3/4", from bar 5 on, the first
    being called `first_bar`."""
    made: list[MeterChange] = []
    before_bar, at_beats = first_bar, Fraction(0)
    for place, text in enumerate(table.texts("meters", (), METERS_FORM)):
        number, _, named = text.partition(":")
        meter = _meter(named)
        if not (_BAR.fullmatch(number.strip()) and meter and int(number) > before_bar):
            raise table.wrong_entry("meters", place, METERS_FORM)
        at_beats += (int(number) - before_bar) * bar_beats
        made.append(MeterChange(at_beats, *meter))
        before_bar, bar_beats = int(number), meter[0]
    return tuple(made)


def _slur_groups(table: Table) -> tuple[int, ...]:
    """True: all under one slur; a number or a list: so many notes to each slur in turn."""
    value = table.get("slurred", False, "true, false, or numbers of notes to a slur")
    if isinstance(value, bool):
        return () if value else (1,)
    if isinstance(value, list):
        return table.wholes("slurred", 1, 64)
    return (table.whole("slurred", 1, 64),)


def _syllables(table: Table) -> tuple[str, ...]:
    names = table.texts("syllables", (), 'a list of syllables such as ["ta", "ka"]')
    for place, name in enumerate(names):
        if not is_syllable(name):
            raise table.wrong_entry("syllables", place, "one to six small letters, such as ta")
    return names


def holds(table: Table, default: str = "hold") -> bool:
    return table.choice("ending", ("hold", "rest"), default) == "hold"


def octaves_of(table: Table) -> int:
    return table.whole("octaves", 1, 4, 1)


def direction_of(table: Table) -> str:
    return table.choice("direction", lines.DIRECTIONS, "up-down")


def signature_of(table: Table) -> int:
    """The written key of a passage that is not made from keys: "F", "D minor" ..."""
    words = table.text("key", "C").split()
    mode = scales.SCALES.get(" ".join(words[1:]) or "major")
    if not words or mode is None or len(words) > 2:
        raise table.wrong("key", KEY_FORM)
    try:
        return scales.signature(words[0], mode)
    except ValueError:
        raise table.wrong("key", KEY_FORM) from None


def length_of(table: Table, key: str, default: str) -> Fraction:
    return _beats(table, key, table.text(key, default))


def _beats(table: Table, key: str, text: str, place: int | None = None) -> Fraction:
    try:
        return beats_of(text)
    except ValueError as error:
        raise table.wrong_entry(key, place, str(error)) from None


def pitch_of(table: Table, key: str) -> int:
    return named_pitch(table, key, table.get(key, None, PITCH_FORM))


def named_pitch(table: Table, key: str, name: object, place: int | None = None) -> int:
    try:
        return midi_of_name(name if isinstance(name, str) else "")
    except ValueError:
        raise table.wrong_entry(key, place, PITCH_FORM) from None
