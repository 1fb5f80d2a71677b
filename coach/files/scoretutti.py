"""An excerpt of a whole score: the player's line as a drill, and the ensemble around it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from coach.core.exercise import Drill
from coach.core.instrument import Instrument
from coach.core.score.choose import Choice
from coach.core.score.model import Score
from coach.core.tutti.ensemble import Ensemble
from coach.core.tutti.making import excerpt_of
from coach.errors import CoachError, FileError
from coach.files.scoredrill import LONGEST_NAME, drill_of_line, player_of
from coach.files.scorefile import read_score

# Playing it inside the ensemble is another thing than playing it alone: kept apart in the book.
SUFFIX = "-tutti"


def score_tutti(
    path: Path,
    choice: Choice,
    lead_bars: int,
    *,
    instrument: str | None = None,
    score: Score | None = None,
) -> tuple[Drill, Instrument, Ensemble]:
    """The bars chosen with `lead_bars` before them; FileError if the file is no score, has no such
    part or bars, or holds nothing that the instrument can play.  `score`: what was read of `path`
    already."""
    score = score or read_score(path)
    try:
        excerpt = excerpt_of(score, choice, lead_bars)
        part = score.parts[excerpt.ensemble.own]
        player, passage = player_of(part, excerpt.line, instrument)
    except FileError:
        raise
    except CoachError as error:
        raise FileError(error.what, str(path), error.hint) from None
    drill = drill_of_line(path, choice, excerpt.line, passage, player)
    name = f"{drill.name[: LONGEST_NAME - len(SUFFIX)]}{SUFFIX}"
    title = f"{drill.title}, tutti"
    drill = replace(drill, name=name, title=title, warp=excerpt.ensemble.warp)
    return drill, player, excerpt.ensemble
