"""What stands on the scorecard: sections, and the rows of each.

A row is told by its key; the module of its section measures it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

AUBIO, LIBROSA, MIDO, MUSIC21, SCIPY = "aubio-ledfx", "librosa", "mido", "music21", "scipy"
PYTHON = "python"
SHARE = "share"


@dataclass(frozen=True, slots=True)
class Row:
    """One line.  `peer` is the library it is held against ("" if there is none), `by` which part of
    it; `unit` one of "", SHARE, "ms", "s", "MB", "%", "x"; `more`: more is better, else less is."""

    key: str
    what: str
    peer: str = ""
    by: str = ""
    unit: str = ""
    more: bool = False


@dataclass(frozen=True, slots=True)
class Figure:
    """What was measured for a row; `theirs` None where there is no peer, `n` says of how many."""

    ours: float
    theirs: float | None
    n: str


@dataclass(frozen=True, slots=True)
class Section:
    """Rows that `module` (beside this one) measures: its `measured(quick)` gives a figure a key."""

    title: str
    module: str
    rows: tuple[Row, ...]


Figures = Mapping[str, Figure]


def _attacks(kind: str, what: str) -> list[Row]:
    return [
        Row(f"{kind} {key} {peer}", f"{what}: {words}", peer, "", unit, more)
        for peer in (AUBIO, LIBROSA)
        for key, words, unit, more in (
            ("f10", "F within 10 ms", "", True),
            ("f25", "F within 25 ms", "", True),
            ("median", "error, median", "ms", False),
            ("p95", "error, 95 %", "ms", False),
        )
    ]


# The pitches of librosa by two methods: the better one is slow.
EARS = ((AUBIO, "yinfast"), (LIBROSA, "pyin"), (LIBROSA, "yin"))


def _verdicts() -> list[Row]:
    return [
        Row(f"{key} {peer} {by}", words, peer, by, unit, more)
        for key, words, unit, more in (
            ("right", "verdicts that are right", "", True),
            ("false", "clean notes called a fault", "", False),
            ("speed", "hearing, times real time", "x", True),
        )
        for peer, by in EARS
    ]


HEARING = Section(
    "Hearing: when notes begin, and what is said of them",
    "hearing",
    (
        *_attacks("tongued", "tongued"),
        *(
            Row(f"slurred f25 {peer}", "slurs among them: F within 25 ms", peer, more=True)
            for peer in (AUBIO, LIBROSA)
        ),
        *_attacks("recorded", "recorded"),
        *_verdicts(),
    ),
)

READING = Section(
    "Reading scores",
    "reading",
    (
        Row("movements", "movements, MusicXML", MUSIC21, unit="s"),
        Row("movement notes", "notes of the brass as theirs", MUSIC21, "", SHARE),
        Row("suite", "files of the test suite read", MUSIC21, "", SHARE, True),
        Row("midi", "MIDI files, notes in seconds", MIDO, unit="ms"),
        Row("midi notes", "notes of MIDI files as theirs", MIDO, "", SHARE),
        Row("midi files", "MIDI files whose notes are read", MIDO, "", SHARE, True),
    ),
)

FINGERING = Section(
    "Planning fingerings: the cheapest way through all notes",
    "fingers",
    tuple(
        row
        for kind, words in (("plain", "plain line"), ("figures", "figures"))
        for row in (
            Row(f"{kind} cost", f"{words}: cost found", SCIPY, "dijkstra"),
            Row(f"{kind} search", f"{words}, their graph given", SCIPY, "dijkstra", "s"),
            Row(f"{kind} whole", f"{words}, costs and search", SCIPY, "dijkstra", "s"),
        )
    ),
)

COMMANDS = ("--help", "drills", "today")
STARTING = Section(
    "Starting",
    "starting",
    tuple(
        Row(f"{command} {beside}", f"coach {command} / {words}", peer, unit="s")
        for command in COMMANDS
        for beside, words, peer in (
            ("bare", "python -c pass", PYTHON),
            ("scipy", "import numpy, scipy", SCIPY),
        )
    ),
)

LIVE = Section(
    "Live: share of one core",
    "live",
    (
        Row("follow", "the ear that follows", AUBIO, "yinfast", "%"),
        Row("through", "the same through eight voices", AUBIO, "yinfast", "%"),
        Row("voices", "sounding eight voices alone", unit="%"),
    ),
)

MEMORY = Section(
    "Memory at its peak",
    "memory",
    (
        Row("take", "a take heard in blocks", AUBIO, "yinfast", "MB"),
        Row("assess", "coach assess, a long recording", LIBROSA, "yin", "MB"),
        Row("movement", "a movement read and sounded", MUSIC21, "reading", "MB"),
        Row("reading", "the same movement read only", MUSIC21, "reading", "MB"),
    ),
)

BOOK = Section(
    "The practice book after 100,000 takes",
    "keeping",
    (
        Row("size", "the book", unit="MB"),
        Row("opening", "opening it", unit="ms"),
        Row("review", "coach review, the whole command", unit="s"),
        Row("today", "coach today, the whole command", unit="s"),
    ),
)

BARS = Section(
    "Finding the bars of a recording",
    "bars",
    (
        Row("bars median", "error, median", LIBROSA, "chroma, dtw", "ms"),
        Row("bars p95", "error, 95 %", LIBROSA, "chroma, dtw", "ms"),
        Row("bars speed", "times real time", LIBROSA, "chroma, dtw", "x", True),
    ),
)

SECTIONS = (HEARING, READING, FINGERING, STARTING, LIVE, MEMORY, BOOK, BARS)
