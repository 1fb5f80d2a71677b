"""Where the bars of a score lie in a recording: as they were kept, else found, or tapped."""

from __future__ import annotations

import argparse
import contextlib
import sys
from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path

from coach.cli.saying import print
from coach.core.score.choose import Choice, line_between, part_of
from coach.core.score.line import Line
from coach.core.score.model import Score
from coach.core.tutti.bars import Positions
from coach.core.tutti.making import Excerpt, excerpt_of
from coach.core.tutti.place import (
    bars_words,
    in_recording,
    merged,
    places_wanted,
    start_in,
    sure_words,
    uneven_ms,
)
from coach.errors import CoachError

USUAL_QUARTERS = 120.0


@dataclass(frozen=True, slots=True)
class BarsInPiece:
    """The whole piece and the excerpt, whose beat 0 is beat `start` of the piece."""

    score: Score
    choice: Choice
    whole: Line
    excerpt: Excerpt
    start: Fraction

    @classmethod
    def of(cls, score: Score, choice: Choice, lead_bars: int) -> BarsInPiece:
        """CoachError for bars that are not there, or not played in one go."""
        excerpt = excerpt_of(score, choice, lead_bars)
        part = part_of(score, choice.part)
        whole = line_between(score, part, 0, len(score.frames) - 1, choice.reading)
        start = start_in(whole.bars, excerpt.line.bars)
        return cls(score, choice, whole, excerpt, start)

    @property
    def entry(self) -> tuple[Fraction, Fraction]:
        """Where the player's first and last note begin, in beats of the piece."""
        at = self.start + self.excerpt.line.bars[0].into
        notes = self.excerpt.line.sounded
        return at + notes[0].onset, at + notes[-1].onset

    @property
    def quarters_bpm(self) -> float:
        """The marked tempo at the start of the piece."""
        return next((bpm for _, bpm in self.whole.tempos), USUAL_QUARTERS)


def positions_of(args: argparse.Namespace, recording: Path, page: BarsInPiece) -> Positions:
    """In beats of the whole piece and frames of the file."""
    from coach.files.positions import kept_positions, read_positions

    kept = kept_positions(recording)
    if args.tap is not None:
        return _tapped(args, recording, page, read_positions(kept) if kept else None)
    if kept is not None and not args.new_bars:
        return read_positions(kept)
    return _found(args, recording, page)


def _found(args: argparse.Namespace, recording: Path, page: BarsInPiece) -> Positions:
    """Those of the whole piece, or of as much of it as there is."""
    from coach.cli.longwork import told
    from coach.files.audio import read_audio
    from coach.hear.align import align

    samples, rate = read_audio(recording)
    piece = excerpt_of(page.score, replace(page.choice, bars=None), 0).ensemble
    notes = [note for voice in piece.voices for note in voice.notes]
    wanted = places_wanted(page.whole.bars, piece.warp)
    words = f"Finding the bars in {recording.name}:"
    with told(words, plain=args.plain) as tell, _or_tapped():
        found = align(
            samples, rate, notes, wanted, bpm=page.quarters_bpm, warp=piece.warp, told=tell
        )
        positions = in_recording(found.positions, found.from_beat, found.to_beat)
    bars = page.whole.bars
    what = f"Found {bars_words(positions, bars)}, {sure_words(positions, bars)}."
    _keep(recording, positions, "sound", what)
    return positions


def _tapped(
    args: argparse.Namespace, recording: Path, page: BarsInPiece, known: Positions | None
) -> Positions:
    """Those of the excerpt, put into what was known."""
    from coach.cli.tapping import taps_of

    taps, made = taps_of(args, recording, page.excerpt.line.bars, page.quarters_bpm)
    bpm, off_ms = made.usual_bpm, uneven_ms(taps, made)
    made = replace(made, beats=tuple(page.start + beat for beat in made.beats))
    bars = page.whole.bars
    what = f"Tapped {bars_words(made, bars)} at {bpm:.0f} a minute, within {off_ms:.0f} ms."
    positions = merged(known, made) if known else made
    _keep(recording, positions, "taps", what)
    return positions


def _keep(recording: Path, positions: Positions, source: str, what: str) -> None:
    from coach.files.positions import keep_positions

    where = keep_positions(recording, positions, source)
    print(f"{what} Kept in {where}.", file=sys.stderr, flush=True)


@contextlib.contextmanager
def _or_tapped() -> Iterator[None]:
    """Who can't find the bars may tap them."""
    try:
        yield
    except CoachError as error:
        if "--tap" in error.hint:
            raise
        hint = ", or ".join(filter(None, (error.hint, "tap the beats yourself with --tap")))
        raise CoachError(error.what, error.where, hint) from None
