"""`coach tutti`: your line inside the ensemble: all other parts play, yours is heard and judged."""

from __future__ import annotations

import argparse
import contextlib
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from coach.cli.carried import add_carried_options, carried
from coach.cli.loading import add_score_options, choice_of
from coach.cli.options import add_drill_options, add_input_options, changed_drill, within
from coach.cli.seating import add_seat_options
from coach.cli.tapeoptions import add_recording_options, tape_of
from coach.errors import CoachError

if TYPE_CHECKING:
    from coach.cli.tape import Tape
    from coach.core.exercise import Drill
    from coach.core.instrument import Instrument
    from coach.core.score.model import Score
    from coach.core.tutti.ensemble import Ensemble

LEAD_BARS, MOST_LEAD_BARS = 2, 64


def add(commands: Any) -> None:
    parser = commands.add_parser(
        "tutti",
        help="play your line inside the ensemble",
        description="All other parts of the score play; your own line is heard and judged, and the"
        " tempo of all moves on only when it is clean.",
    )
    parser.add_argument("score", metavar="SCORE", help=".musicxml, .mxl, .mid, .abc")
    parser.add_argument("--instrument", metavar="NAME", help="(default: the part's own)")
    group = parser.add_argument_group("the ensemble")
    _add_playing_options(group)
    _add_sound_options(group)
    add_recording_options(parser)
    add_seat_options(parser)
    add_input_options(parser)
    add_drill_options(parser)
    add_carried_options(parser)
    add_score_options(parser)
    parser.set_defaults(run=run)


def _add_playing_options(group: Any) -> None:
    """What is played: bars before, tempo, click."""
    group.add_argument(
        "--lead",
        type=int,
        default=LEAD_BARS,
        metavar="BARS",
        help="bars before your entry (default: 2)",
    )
    group.add_argument("--tempo", type=float, metavar="BPM", help="only at this tempo")
    group.add_argument(
        "--strict-time",
        dest="strict",
        action="store_true",
        help="no change of tempo that is only a word, such as rit.",
    )
    click = group.add_mutually_exclusive_group()
    click.add_argument("--no-click", action="store_true", help="after the count-in none")
    click.add_argument(
        "--fade-click", action="store_true", help="softer after each take that passes, then none"
    )


def _add_sound_options(group: Any) -> None:
    """How it sounds, and from where."""
    group.add_argument("--own", type=float, metavar="DB", help="sound your line too, so loud")
    group.add_argument(
        "--sound-font", metavar="FILE", help=".sf2 or .sf3 (default: one that is found)"
    )
    group.add_argument("--simple-sound", action="store_true", help="no sound font at all")
    group.add_argument(
        "--ensemble-midi",
        nargs="?",
        const="",
        metavar="NAME",
        help="played by an instrument on this MIDI output (default: the only one)",
    )
    group.add_argument(
        "--ensemble-delay",
        type=float,
        metavar="MS",
        help="how late it sounds (default: as `coach check --ensemble-midi` measured)",
    )
    group.add_argument(
        "--headphones", action="store_true", help="the microphone does not hear the ensemble"
    )


def run(args: argparse.Namespace) -> int:
    from coach.cli.keeping import Keeper, practice_book
    from coach.cli.practice import check_session, practise
    from coach.cli.seating import seated
    from coach.cli.stage import opened_stage, staged
    from coach.core.tutti.guide import TuttiGuide

    check_session(args)
    score = _score(args)
    places = seated(args, score)
    parts = [place.part for place in places] or [args.part]
    tape = tape_of(args, score, replace(choice_of(args), part=parts[0], strict=args.strict))
    # What each player plays; the first is the one whose book it is.
    read = [_read(args, score, part, tape) for part in parts]
    drill, instrument, ensemble = read[0]
    with contextlib.ExitStack() as stack:
        book = stack.enter_context(practice_book("tutti"))
        heard = {place.kind for place in places} or {args.input}
        stage = staged(args, ensemble, tape, by_microphone="mic" in heard)
        if places:
            from coach.cli.section import Table, opened_section

            table = Table(places, read)
            seats = table.seats(stage)
            source, weakest = opened_section(args, stack, table, seats, stage), seats.weakest
        else:
            source, weakest = opened_stage(args, stack, stage), None
        guide = TuttiGuide(
            drill,
            instrument.transposition,
            fades=args.fade_click,
            clicks=not args.no_click,
            weakest=weakest,
        )
        practise(args, drill, instrument, source, Keeper(book, instrument, source.taken), guide)
    return 0


def _score(args: argparse.Namespace) -> Score:
    """The score, after what is asked for was looked at."""
    from coach.files.configs import load_instrument
    from coach.files.scorefile import is_score, read_score

    within(args.lead, "--lead", 0, MOST_LEAD_BARS)
    within(args.own, "--own", -40, 0)
    within(args.ensemble_delay, "--ensemble-delay", -500, 500)
    if args.tempo is not None:
        if args.from_bpm is not None or args.to_bpm is not None:
            raise CoachError("--tempo is the only tempo", "", "leave --from and --to out")
        args.from_bpm = args.to_bpm = args.tempo
    if args.instrument:
        load_instrument(args.instrument)
    if not is_score(args.score):
        raise CoachError("an ensemble needs a score", args.score, "give .musicxml, .mxl or .mid")
    return read_score(Path(args.score))


def _read(
    args: argparse.Namespace, score: Score, part: str | None, tape: Tape | None
) -> tuple[Drill, Instrument, Ensemble]:
    """One part as a drill with what the options change, and the ensemble around it."""
    from coach.cli.own import own_instrument
    from coach.files.scoretutti import score_tutti

    drill, instrument, ensemble = score_tutti(
        Path(args.score),
        replace(choice_of(args), part=part, strict=args.strict),
        args.lead,
        instrument=args.instrument or own_instrument(),
        score=score,
    )
    if tape is not None:
        drill, ensemble = tape.applied(drill, ensemble, args)
    drill = carried(changed_drill(drill, args), instrument, args)
    return replace(drill, cautions=(LOUDNESS, *drill.cautions)), instrument, ensemble


LOUDNESS = "Keep the ensemble no louder than you need, in headphones above all."
