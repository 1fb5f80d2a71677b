"""`--recording` of `coach tutti`: a sound file of the ensemble in place of made sound."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from coach.errors import CoachError, FileError

if TYPE_CHECKING:
    from coach.cli.tape import Tape
    from coach.core.score.choose import Choice
    from coach.core.score.model import Score


def add_recording_options(parser: argparse.ArgumentParser) -> None:
    group = parser.add_argument_group("a recording in place of made sound")
    group.add_argument(
        "--recording", metavar="FILE", help="a sound file of the ensemble; its bars are found once"
    )
    group.add_argument(
        "--tap",
        nargs="?",
        const="0:00",
        metavar="M:SS",
        help="tap the beats of your bars yourself; it sounds from there (0:00)",
    )
    group.add_argument("--new-bars", action="store_true", help="find its bars anew")


def tape_of(args: argparse.Namespace, score: Score, choice: Choice) -> Tape | None:
    """The recording that was asked for, with its bars; None if none was.

    CoachError for options that don't go together, FileError for a file that can't be read, has not
    these bars, or is of another piece.
    """
    if args.recording is None:
        _check_left_out(args)
        return None
    _check_made_sound(args)
    from coach.cli.tape import made_tape

    try:
        return made_tape(args, score, choice)
    except FileError:
        raise
    except CoachError as error:
        raise FileError(error.what, error.where or args.recording, error.hint) from None


def _check_left_out(args: argparse.Namespace) -> None:
    for name, given in (("--tap", args.tap is not None), ("--new-bars", args.new_bars)):
        if given:
            raise CoachError(f"{name} is for a recording", "", "name one with --recording")


def _check_made_sound(args: argparse.Namespace) -> None:
    if args.tap is not None and args.new_bars:
        raise CoachError("bars are tapped or found", "", "leave --tap or --new-bars out")
    for name, given in (
        ("--own", args.own is not None),
        ("--sound-font", args.sound_font is not None),
        ("--ensemble-midi", args.ensemble_midi is not None),
    ):
        if given:
            raise CoachError(f"{name} is for made sound", "", f"leave {name} or --recording out")
