"""A drill straight from a score: some bars of one part, at the tempo that is marked there."""

from __future__ import annotations

import hashlib
import re
import unicodedata
from pathlib import Path

from coach.core.exercise import Drill
from coach.core.gate import Gate
from coach.core.instrument import Instrument
from coach.core.passage import Passage
from coach.core.score.choose import Choice, line_of, part_of
from coach.core.score.line import Line
from coach.core.score.model import Part
from coach.core.score.partnames import instrument_of
from coach.core.score.practise import passage_of, tempo_of
from coach.errors import CoachError, FileError
from coach.files.configs import load_instrument, load_rules
from coach.files.drillkinds import MOST_BARS, MOST_NOTES
from coach.files.fitting import DEFAULT_INSTRUMENT, in_octave, written_name
from coach.files.scorefile import read_score

# A drill starts at this share of the marked tempo: slow enough to be clean, fast enough to be the
# same movements (an assumption; --from says otherwise).
START_SHARE = 0.6
SLOWEST_BPM, FASTEST_BPM = 10.0, 400.0
LONGEST_NAME = 64


def score_drill(
    path: Path, choice: Choice, *, instrument: str | None = None
) -> tuple[Drill, Instrument]:
    """The bars of a part as a drill for its own instrument or another.

    FileError if the file is no score, has no such part or bars, or holds nothing that the
    instrument can play.
    """
    score = read_score(path)
    try:
        part = part_of(score, choice.part)
        line = line_of(score, part, choice.bars, choice.reading)
        player, passage = player_of(part, line, instrument)
    except FileError:
        raise
    except CoachError as error:
        raise FileError(error.what, str(path), error.hint) from None
    return drill_of_line(path, choice, line, passage, player), player


def player_of(part: Part, line: Line, instrument: str | None) -> tuple[Instrument, Passage]:
    """Who plays the line, and how it lies on that instrument; CoachError if it can't be played."""
    home = instrument_of(part.name, part.sound)
    player = load_instrument(instrument or home or DEFAULT_INSTRUMENT)
    return player, _playable(passage_of(line, player), player, line, own=player.name == home)


def drill_of_line(
    path: Path, choice: Choice, line: Line, passage: Passage, player: Instrument
) -> Drill:
    """The drill that practises this passage of the line up to the marked tempo; FileError if it is
    too long."""
    _check_size(passage, path)
    goal_bpm = min(max(round(tempo_of(line, passage), 1), SLOWEST_BPM), FASTEST_BPM)
    bars = f"bars {choice.bars}" if choice.bars else "all of it"
    return Drill(
        drill_name(path, line, choice.bars),
        ", ".join(filter(None, (line.title or path.stem, line.part, bars))),
        "From a score.",
        (passage,),
        max(SLOWEST_BPM, round(START_SHARE * goal_bpm)),
        goal_bpm,
        player.name,
        gate=Gate(load_rules("normal").pass_share, rule="ceiling"),
    )


def drill_name(path: Path, line: Line, bars: str | None) -> str:
    """What takes of these bars are kept under, such as "march-horn-1-bars-12-16"."""
    words = " ".join(filter(None, (_latin(path.stem), line.part, f"bars {bars}" if bars else "")))
    return re.sub(r"[^a-z0-9]+", "-", words.lower()).strip("-")[:LONGEST_NAME] or "score"


def _latin(stem: str) -> str:
    """Titles in other letters have a number beside what is left of them: else they would all be
    called alike, and so would the takes of them."""
    if re.search(r"[a-zA-Z]", stem) or not any(map(str.isalpha, stem)):
        return stem
    # Systems differ in whether a letter and its mark are one.
    whole = unicodedata.normalize("NFC", stem)
    return f"{stem} {hashlib.sha256(whole.encode()).hexdigest()[:8]}"


def _playable(passage: Passage, player: Instrument, line: Line, *, own: bool) -> Passage:
    """Where it sounds, if the instrument reaches that; a part for another instrument is moved by
    whole octaves if that helps."""
    beyond = [n for n in passage.notes if not player.reaches(n.pitch)]
    if not beyond:
        return passage
    moved = None if own else in_octave(passage, player)
    if moved is not None:
        return moved
    place = passage.notes.index(beyond[0])
    bar = line.sounded[place].bar
    low, high = (written_name(pitch, player) for pitch in (player.lowest, player.highest))
    name = written_name(beyond[0].pitch, player, passage)
    raise CoachError(
        f"bar {bar} of {line.part}: written {name} can't be played on the {player.title}",
        "",
        f"it reaches from {low} to {high}; choose other bars or another --instrument",
    )


def _check_size(passage: Passage, path: Path) -> None:
    bars = len(passage.bars)
    if len(passage.notes) > MOST_NOTES or bars > MOST_BARS:
        hint = f"choose fewer with --bars: at most {MOST_NOTES} notes and {MOST_BARS} bars"
        raise FileError(f"{len(passage.notes)} notes in {bars} bars are too many", str(path), hint)
