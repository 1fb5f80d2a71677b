"""A second opinion: music21 reads the same invented tunes; pitches, onsets and lengths agree.

Where it reads otherwise: in a file of no version it lets an accidental hold for its own note alone
(from 2.0 on for all octaves, as we do in every file), and a change of key inside a line,
"[K:D]", is passed over by it, so here it stands on a line of its own.
"""

from __future__ import annotations

from fractions import Fraction

import music21
import pytest

from tests.files.abc.making import read, tune

AS_PRINTED = "%abc-2.1\n%%propagate-accidentals octave\n"
TUNES = {
    "octaves": tune("C,CDE | FGAB | cdef | gabc' |]", unit="1/4"),
    "lengths": tune("C2D2 E4 | F/G/A3/2B3/2 c3 |]"),
    "accidentals": tune("^FGF_B | B=F^c=c | FGAB |]", unit="1/4"),
    "a key with flats": tune("EFGA | Bcde | ^E=E_E2 |]", unit="1/4", key="Eb"),
    "a mode": tune("DEFG | ABcd |]", unit="1/4", key="Ddor"),
    "a minor key": tune("EFGA | Bcde |]", unit="1/4", key="Em"),
    "broken rhythm": tune("C>D E<F G>>A B2 |]"),
    "triplets": tune("(3CDE F2 (3GAB c2 |]"),
    "two in the time of three": tune("(2CD EFG |]", meter="6/8"),
    "rests": tune("C2 z2 D z E2 | z8 | F8 |]"),
    "no unit of length": "X:1\nT:Invented\nM:2/4\nK:G\nGABc dedc | B4 G4 |]\n",
    "common time": tune("C2 E2 G2 c2 |]", meter="C"),
    "ties": tune("C4 D4- | D4 E4 |]"),
    "chords": tune("[CEG]4 [DF]4 |]"),
    "key change": tune("F4 F4 |\nK:D\nF4 C4 |]"),
}


def ours(text: str) -> list[tuple[Fraction, Fraction, int]]:
    """(onset, length, MIDI number) of every printed note, in quarter notes."""
    score, made, start = read(text), [], Fraction(0)
    for frame, bar in zip(score.frames, score.parts[0].bars, strict=True):
        made += [(start + h.onset, h.length, h.sounding) for h in bar.heads if not h.grace]
        start += frame.length
    return sorted(made)


def theirs(text: str) -> list[tuple[Fraction, Fraction, int]]:
    made = []
    for sound in music21.converter.parse(AS_PRINTED + text, format="abc").flatten().notes:
        where = (Fraction(sound.offset), Fraction(sound.duration.quarterLength))
        made += [(*where, pitch.midi) for pitch in sound.pitches]
    return sorted(made)


@pytest.mark.parametrize("name", TUNES)
def test_music21_reads_the_same(name):
    found = ours(TUNES[name])
    assert found == theirs(TUNES[name])
    assert len(found) >= 4
