"""A score as it is printed, whatever file it came from.

Readers in `files/` make a `Score`; `line` takes one player's line out of it.  Beats are quarter
notes as exact fractions.  Written pitch is what stands in the part; written + transposition sounds.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction

from coach.core.patterns.layout import pulse_of_meter
from coach.core.pitch import Spelled


@dataclass(frozen=True, slots=True)
class Meter:
    """The counts of a bar, (3, 2) for 3+2, and the unit: 4 for a quarter note."""

    counts: tuple[int, ...] = (4,)
    unit: int = 4

    @property
    def bar_beats(self) -> Fraction:
        return Fraction(4 * sum(self.counts), self.unit)

    @property
    def pulse_beats(self) -> Fraction:
        """One click in quarter notes: 3/2 in 6/8."""
        return pulse_of_meter(sum(self.counts), self.unit)

    @property
    def text(self) -> str:
        return f"{'+'.join(map(str, self.counts))}/{self.unit}"


@dataclass(frozen=True, slots=True)
class Head:
    """One printed note; a chord is several heads of the same voice and onset.

    `onset` counts from the start of the bar; a grace note has the length 0 and stands before the
    note that it leans on; `chord`: it sounds together with the head before it.  `clef` is the
    letter of the clef in force ("G", "F", "C").  `slurred`: inside a slur that began on an earlier
    note.  `marks` are names such as "accent", "marcato", "staccato", "tenuto", "double-tongue",
    "stopped", "fermata", "trill", "tremolo-2".
    """

    onset: Fraction
    length: Fraction
    written: Spelled
    transposition: int = 0
    voice: str = "1"
    staff: int = 1
    clef: str = "G"
    grace: bool = False
    chord: bool = False
    tied_back: bool = False
    tied_on: bool = False
    slurred: bool = False
    marks: frozenset[str] = frozenset()
    fingering: str | None = None
    syllable: str | None = None

    @property
    def sounding(self) -> int:
        return self.written.midi + self.transposition


@dataclass(frozen=True, slots=True)
class PartBar:
    """What one part has in one bar.

    Heads in order of onset, printed order inside one; `voices` are the (staff, voice) that are
    there, with printed rests counted; `keys` are changes of key: (onset, sharps or minus flats).
    """

    heads: tuple[Head, ...] = ()
    voices: tuple[tuple[int, str], ...] = ()
    keys: tuple[tuple[Fraction, int], ...] = ()


@dataclass(frozen=True, slots=True)
class Part:
    """One part, bar by bar (as many as the score has).

    `sound` is what the file says of the instrument beside the name (a General MIDI program such as
    "program 60", or a sound name such as "brass.french-horn"), "" if nothing.
    """

    name: str
    bars: tuple[PartBar, ...]
    transposition: int = 0
    sound: str = ""


@dataclass(frozen=True, slots=True)
class Signs:
    """What of a bar says how to go on.

    At its start: `forward` repeat, `segno`, `coda` (their labels, "" if none); `endings`: only on
    these passes is it played.  At its end: `plays` (of a backward repeat: how often it is all
    played, 2 as a rule; 0 if none), `after_jump` (that repeat is taken after a D.C. or D.S. too),
    `fine`, `to_coda` (label), and `jump`: "capo" or "segno", with `jump_label` of the segno.
    """

    forward: bool = False
    plays: int = 0
    after_jump: bool = False
    endings: frozenset[int] = frozenset()
    segno: str = ""
    coda: str = ""
    fine: bool = False
    to_coda: str = ""
    jump: str = ""
    jump_label: str = ""


@dataclass(frozen=True, slots=True)
class Frame:
    """One bar of the whole score: number as in the file (`implicit`: not printed, as of a pick-up),
    length as it is (a pick-up is shorter than its meter), the meter in force, signs, and tempo
    marks as (onset, quarter notes a minute).

    `tempo_words` are directions of tempo as they are printed in any part, (onset, text), with the
    text "" where a dashed line behind one ends; `double_bar`: a double or final bar line ends it.
    """

    number: str
    length: Fraction
    meter: Meter = Meter()
    implicit: bool = False
    signs: Signs = Signs()
    tempos: tuple[tuple[Fraction, float], ...] = ()
    tempo_words: tuple[tuple[Fraction, str], ...] = ()
    double_bar: bool = False


@dataclass(frozen=True, slots=True)
class Score:
    """Parts over common bars; `remarks` are sentences on what was left out or put right.

    `sounding_only`: the file knows no written pitch, as MIDI; what is written is as it sounds."""

    title: str
    parts: tuple[Part, ...]
    frames: tuple[Frame, ...]
    remarks: tuple[str, ...] = field(default=())
    sounding_only: bool = False

    def __post_init__(self) -> None:
        for part in self.parts:
            if len(part.bars) != len(self.frames):
                raise ValueError(
                    f"part {part.name} has {len(part.bars)} of {len(self.frames)} bars"
                )
