"""`coach learn`: play or sing a passage slowly to a click; it is written down as a drill."""

from __future__ import annotations

import argparse
import contextlib
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from coach.cli.options import FASTEST_BPM, add_device_options, within
from coach.cli.own import instrument_for
from coach.cli.saying import print
from coach.cli.typed import typed
from coach.core.transcribe import GRIDS, Paper, TranscribedNote, Transcript, choose_grid, transcribe
from coach.errors import CoachError, FileError

if TYPE_CHECKING:
    from coach.files.toml import Table

# Clicks that one can write down by, a minute.
SLOWEST_LEARNT_BPM, FASTEST_LEARNT_BPM = 20.0, 200.0
MOST_BARS, MOST_COUNT_IN = 64, 8
# A first guess at where the drill may lead; the player knows better (--to).
GOAL_RATIO = 2.0


def add(commands: Any) -> None:
    parser = commands.add_parser("learn", help="play a passage slowly: it becomes a drill")
    parser.add_argument(
        "--out", required=True, metavar="NAME", help="name of the drill, or a .toml"
    )
    parser.add_argument("--bpm", type=float, default=60.0, help="clicks a minute (default 60)")
    parser.add_argument("--bars", type=int, default=4, help="length of the passage (default 4)")
    parser.add_argument("--grid", default="auto", help=f"auto (default), {', '.join(GRIDS)}")
    parser.add_argument("--meter", default="4/4", help="such as 3/4 or 6/8 (default 4/4)")
    parser.add_argument("--key", default="C", help='written key, for the names: "F", "D minor"')
    parser.add_argument(
        "--instrument", metavar="NAME", help="(default: your own, or the double horn)"
    )
    parser.add_argument("--title", help="(default: made from the name)")
    parser.add_argument(
        "--to", type=float, metavar="BPM", help="goal of the drill (default: twice)"
    )
    parser.add_argument(
        "--count-in", type=int, default=1, metavar="BARS", help="0 to 8 (default 1)"
    )
    parser.add_argument(
        "--input", default="mic", metavar="WHAT", help="mic (default), midi, or a recording"
    )
    parser.add_argument("--yes", action="store_true", help="keep it without asking")
    parser.add_argument("--replace", action="store_true", help="write over a drill of this name")
    add_device_options(parser)
    parser.set_defaults(run=run)


@dataclass(frozen=True, slots=True)
class _Job:
    """What is to be learned, checked."""

    path: Path
    instrument: Any
    layout: Any
    fifths: int
    goal_bpm: float


def run(args: argparse.Namespace) -> int:
    job = _checked(args)
    with contextlib.ExitStack() as stack:
        port = _open(args, stack)
        while True:
            transcript, grid = _listen(args, job, port)
            _show(args, job, transcript, grid)
            answer = "y" if args.yes else _asked(args, job)
            if answer != "a":
                break
    if answer == "y":
        _keep(args, job, transcript.passage)
        print(f"Kept: {job.path}\nPractise it with: {typed('coach', 'drill', args.out)}")
    return 0


def _checked(args: argparse.Namespace) -> _Job:
    from coach.files.drillparts import meter_of, signature_of
    from coach.files.drillwrite import drill_path
    from coach.files.output import check_free

    for name, value, low, high in (
        ("--bpm", args.bpm, SLOWEST_LEARNT_BPM, FASTEST_LEARNT_BPM),
        ("--bars", args.bars, 1, MOST_BARS),
        ("--count-in", args.count_in, 0, MOST_COUNT_IN),
        ("--to", args.to, args.bpm, FASTEST_BPM),
    ):
        within(value, name, low, high)
    if args.grid != "auto" and args.grid not in GRIDS:
        raise CoachError(f"--grid {args.grid} is unknown", "", f"use auto, {', '.join(GRIDS)}")
    if args.count_in == 0 and args.input in ("mic", "midi"):
        raise CoachError("--count-in 0 gives no tempo to play to", "", "use 1 or more")
    path = drill_path(args.out)
    check_free(path, replace=args.replace, what="drill")
    goal = args.to or min(FASTEST_BPM, round(GOAL_RATIO * args.bpm))
    instrument = instrument_for(args.instrument)
    layout = _read("meter", args.meter, meter_of, "4/4, 3/4 or 6/8")
    fifths = _read("key", args.key, signature_of, 'F, Bb or "D minor"')
    return _Job(path, instrument, layout, fifths, goal)


def _read(option: str, value: str, read: Callable[[Table], Any], examples: str) -> Any:
    """The value of an option as a drill file would be read; CoachError that names the option."""
    from coach.files.toml import Table

    try:
        return read(Table({option: value}, Path(f"--{option}")))
    except FileError:
        what = f'--{option} "{value}" is no {option}'
        raise CoachError(what, "", f"write e.g. {examples}") from None


def _open(args: argparse.Namespace, stack: contextlib.ExitStack) -> Any:
    from coach.cli import opening
    from coach.files.configs import load_keys
    from coach.hear.blind import library
    from coach.ports.pedal import Pedal

    if args.input != "midi":
        # Before anything is played.
        library()
    if args.input in ("mic", "midi"):
        chosen = opening.microphone if args.input == "mic" else opening.midi
        port, _ = chosen(args, Pedal(load_keys()["pedal"]), stack)
        return port
    path = Path(args.input)
    if not path.exists():
        what = f"--input {args.input} is neither mic nor midi nor a file"
        raise CoachError(what, "", "give the path of a recording")
    return opening.recording(path)


def _listen(args: argparse.Namespace, job: _Job, port: Any) -> tuple[Transcript, str]:
    """Record one time through and write it down; (what was played, the grid)."""
    from coach.cli.listening import heard_notes, plan_of_bars, record

    plan = plan_of_bars(port, job.layout, args.bars, args.bpm, args.count_in)
    recording = record(port, plan, _say)
    heard = heard_notes(recording, plan, job.instrument.lowest)
    inside = [h for h in heard if h.pitch is None or job.instrument.reaches(round(h.pitch))]
    if not inside:
        hint = "play nearer to the microphone; `coach check` shows how loud you are"
        raise CoachError("no notes were heard", "", hint)
    grid = choose_grid(inside) if args.grid == "auto" else args.grid
    layout = job.layout
    page = Paper(GRIDS[grid], args.bars, layout.bar_beats, layout.pulse_beats, job.fifths)
    transcript = transcribe(inside, page)
    if not transcript.passage.notes:
        raise CoachError(
            "no note fell between the first bar and the last", "", "begin on the click"
        )
    return _with_unreached(transcript, heard, inside), grid


def _with_unreached(
    transcript: Transcript, heard: list[TranscribedNote], inside: list[TranscribedNote]
) -> Transcript:
    from dataclasses import replace

    outside = tuple(note for note in heard if note not in inside)
    return replace(transcript, left_out=(*transcript.left_out, *outside))


def _say(words: str) -> None:
    print(words, file=sys.stderr, flush=True)


def _show(args: argparse.Namespace, job: _Job, transcript: Transcript, grid: str) -> None:
    from coach.screen.written import passage_lines

    for line in passage_lines(transcript.passage, job.instrument.transposition):
        print(line)
    beat_ms = 60_000 / args.bpm / float(job.layout.pulse_beats)
    count = len(transcript.passage.notes)
    print(
        f"{count} note{'s' if count != 1 else ''} on a grid of {grid}; as a whole "
        f"{transcript.late_beats * beat_ms:+.0f} ms against the click, then within "
        f"{transcript.spread_beats * beat_ms:.0f} ms; tuning {transcript.tuning_cents:+.0f} cents."
    )
    if transcript.left_out:
        print(f"Left out: {len(transcript.left_out)} that found no place.")


def _asked(args: argparse.Namespace, job: _Job) -> str:
    """y, a or n; only live playing can be done again."""
    again = args.input in ("mic", "midi")
    question = f"Keep it as {args.out}? y yes, {'a play it again, ' if again else ''}n no: "
    while True:
        print(question, end="", flush=True)
        line = sys.stdin.readline()
        if not line:
            raise CoachError("nobody was there to answer, nothing was kept", "", "add --yes")
        answer = line.strip().lower()[:1]
        if answer in ("y", "n") or (answer == "a" and again):
            return answer


def _keep(args: argparse.Namespace, job: _Job, passage: Any) -> None:
    from coach.files.drillwrite import Heading, drill_text, write_drill

    title = args.title or job.path.stem.replace("-", " ").replace("_", " ").capitalize()
    about = f"Learned by ear at {args.bpm:g} clicks a minute."
    heading = Heading(title, about, args.meter, args.key, args.bpm, job.goal_bpm)
    text = drill_text(passage, job.instrument, heading)
    write_drill(job.path, text, replace=args.replace)
