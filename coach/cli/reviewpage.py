"""`coach review --html`: the review as a page of pictures."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from coach.cli.saying import print
from coach.errors import CoachError

if TYPE_CHECKING:
    from coach.cli.record import Record
    from coach.core.instrument import Instrument
    from coach.core.profile.profile import Profile
    from coach.core.progress.climb import Climb
    from coach.core.progress.heard import HeardPassage
    from coach.core.review import Review
    from coach.page.document import Content
    from coach.page.music import MusicLine

# So many passages of late have pictures, the one played last first; of each so many takes are
# looked at for those of one passage.
MOST_PASSAGES, LOOKED_AT_TAKES = 8, 24
# As wide as the text of a page of A4.
LINE_MM, STAFF_MM = 180.0, 8.0
# Where nothing can be engraved: so many names of notes a line, so far apart.
NAMES, NAME_MM, NAME_LEFT_MM, NAME_HIGH_MM = 16, 9.5, 22.0, 12.0


@dataclass(frozen=True, slots=True)
class PageMatter:
    """What the page is made from: the book, and what was found in it."""

    book: Any
    record: Record
    review: Review
    profile: Profile
    weak: Sequence[str]
    advice: str


def add_page_options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--html", type=Path, metavar="FILE", help="write it as a page of pictures")
    parser.add_argument("--replace", action="store_true", help="write over a file that is there")


def write_page(path: Path, known: PageMatter) -> None:
    """Make the page and say where it is; FileError if it can't be written."""
    from coach.files.output import write_whole
    from coach.page.document import page

    write_whole(path, page(_content(known)), private=True)
    print(path)


def _content(known: PageMatter) -> Content:
    from coach.core.planning.worked import loads_of
    from coach.core.progress.days import evenness_days, minutes_of, offset_days
    from coach.page.document import Content, PassageSection

    today, record = known.review.today, known.record
    climbs = _climbs(known)
    instrument = _instrument(known)
    heard = [_heard(known, climb.drill) for climb in climbs]
    lines = _engraved(heard, instrument)
    return Content(
        _player(record),
        instrument.title if instrument else "",
        known.review,
        known.advice,
        known.weak,
        [PassageSection(*one) for one in zip(climbs, heard, lines, strict=True)],
        len(known.review.passages) - len(climbs),
        known.profile,
        minutes_of(loads_of(record.takes, record.elsewhere), today),
        evenness_days(record.worked, today),
        offset_days(record.worked, today),
    )


def _player(record: Record) -> str:
    from coach.book.players import NAMELESS

    return "" if record.player == NAMELESS else record.player


def _instrument(known: PageMatter) -> Instrument | None:
    from coach.files.configs import load_instrument

    name = known.record.instrument
    return load_instrument(name) if name else None


def _climbs(known: PageMatter) -> list[Climb]:
    from coach.core.progress.climb import climb_of

    today, rows = known.review.today, known.record.worked
    return [
        climb_of([row for row in rows if row.drill == standing.drill], standing, today)
        for standing in known.review.passages[:MOST_PASSAGES]
    ]


def _heard(known: PageMatter, drill: str) -> HeardPassage | None:
    from coach.cli.lately import judged
    from coach.core.progress.heard import heard_of

    name = known.record.instrument
    kept = known.book.latest(LOOKED_AT_TAKES, drill)
    return heard_of(judged([one for one in kept if one.instrument == name]))


def _engraved(
    heard: Sequence[HeardPassage | None], instrument: Instrument | None
) -> list[tuple[MusicLine, ...]]:
    """The lines of each passage; those that can't be engraved as names of their notes."""
    voices = [_voice(one, instrument) for one in heard]
    pictures = _pictures([voice for voice in voices if voice is not None])
    found = []
    for one, voice in zip(heard, voices, strict=True):
        lines = _lines(voice, pictures.get(voice)) if voice is not None else None
        found.append(() if one is None else lines or _named(one))
    return found


def _voice(heard: HeardPassage | None, instrument: Instrument | None) -> str | None:
    """Its MusicXML; None where no meter or no note value has such lengths."""
    from coach.files.musicxmlwrite import musicxml_text

    if heard is None or instrument is None:
        return None
    exercise = heard.exercise
    try:
        return musicxml_text(exercise.passage, instrument, exercise.tempo_bpm)
    except ValueError:
        return None


def _pictures(voices: Sequence[str]) -> dict[str, Any]:
    """All in one process; one after the other if that fails, so that one that can't be engraved
    spoils no other."""
    from coach.files.engrave.music import Music, Voice, engraved

    jobs = [Music((Voice(voice),), LINE_MM, STAFF_MM) for voice in voices]
    try:
        return dict(zip(voices, engraved(jobs, "review"), strict=True))
    except CoachError:
        if len(voices) < 2:
            return {}
    return {name: lines for voice in voices for name, lines in _pictures([voice]).items()}


def _lines(voice: str, lines: Any) -> tuple[MusicLine, ...] | None:
    from coach.files.engrave.heads import heads_mm
    from coach.page.music import MusicLine

    if lines is None:
        return None
    pictures = [line[0] for line in lines]
    try:
        heads = heads_mm(voice, pictures)
    except ValueError:
        return None
    pairs = zip(pictures, heads, strict=True)
    return tuple(MusicLine(p.svg, p.width_mm, p.height_mm, places) for p, places in pairs)


def _named(heard: HeardPassage) -> tuple[MusicLine, ...]:
    from coach.page.music import MusicLine

    starts = range(0, len(heard.notes), NAMES)
    return tuple(
        MusicLine(
            "",
            LINE_MM,
            NAME_HIGH_MM,
            {
                start + k: NAME_LEFT_MM + NAME_MM * (k + 0.5)
                for k in range(min(NAMES, len(heard.notes) - start))
            },
        )
        for start in starts
    )
