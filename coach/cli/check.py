"""`coach check`: the room before the first use, and again at any time."""

from __future__ import annotations

import argparse
import contextlib
import sys
from typing import Any

from coach.cli.options import add_device_options
from coach.cli.record import book_path
from coach.cli.saying import print
from coach.errors import CoachError, DeviceError

QUIET_S, PLAYING_S = 2.0, 5.0
# A click 20 dB under the instrument does not disturb the hearing (measured, see DEVELOPERS.md).
USUAL_CLICK_DB, HARMLESS_DB = -12.0, -20.0
ADVICE = {
    "too hot": "The input is too loud: it overloads. Turn the microphone down, or move back.",
    "move nearer": "The input is faint: move nearer, or turn the microphone up.",
    "noisy": "The room is noisy: close a window, or move nearer to the microphone.",
    "good": "The level is good.",
}
# Systems that ask whether a program may listen give it silence while it may not.
SILENT = "Nothing at all comes in, not even noise: "
UNMUTE = {
    "darwin": "let your terminal use the microphone (System Settings, Privacy & Security,"
    " Microphone) and start it anew, or take the mute off.",
    "win32": "let desktop apps use the microphone (Settings, Privacy & security, Microphone), or"
    " take the mute off.",
}
UNMUTE_ELSEWHERE = "take the mute off, or choose another input (coach devices)."
HEARING = (
    "Keep the click no louder than you need: hearing that is lost does not come back. For levels"
    " and protection follow your local rules and ask a hearing professional."
)


def add(commands: Any) -> None:
    parser = commands.add_parser("check", help="measure the room, the level and the round trip")
    add_device_options(parser)
    parser.add_argument(
        "--no-playing", action="store_true", help="only the noise and the round trip"
    )
    parser.add_argument(
        "--ensemble-midi",
        nargs="?",
        const="",
        metavar="NAME",
        help="only how late the instrument on this MIDI output sounds (default: the only one)",
    )
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    if args.ensemble_midi is not None:
        return _check_instrument(args)
    return _check_room(args)


def _check_instrument(args: argparse.Namespace) -> int:
    """How late what hangs on a MIDI output sounds, by the microphone."""
    from coach.cli.opening import settings
    from coach.files.calibration import Calibration, store_delay
    from coach.hear.answers import find_answer
    from coach.ports.base import open_sound
    from coach.ports.calling import CallingPort, record_answers
    from coach.ports.midi import choose_midi

    sound = settings()
    name = choose_midi("output", args.ensemble_midi or None, sound.midi_api).name
    card = open_sound(sound, args.device, args.output_device)
    with CallingPort(card, name, sound.midi_api) as port:
        print(f"Listening for eight notes of {name} ...", file=sys.stderr, flush=True)
        sent = record_answers(port)
    found = find_answer(sent.samples, sent.sent_frames, sent.rate)
    ms = 1000 / sent.rate
    store_delay(name, Calibration(found.frames / sent.rate, found.spread_frames * ms, sent.rate))
    print(f"{name} sounds {found.frames * ms:.0f} ms late, kept for this instrument.")
    return 0


def _check_room(args: argparse.Namespace) -> int:
    from coach.cli.opening import device_pair, or_else, settings
    from coach.hear.levels import measure_level
    from coach.ports.base import open_sound
    from coach.ports.roundtrip_io import record

    with or_else("a MIDI instrument needs no check"):
        pair = device_pair(args)
    with contextlib.closing(open_sound(settings(), args.device, args.output_device)) as port:
        port.open()
        quiet = measure_level(_record(port, record, "Stay quiet", QUIET_S), port.rate)
        level = quiet
        if not args.no_playing:
            played = _record(port, record, "Play loudly and softly", PLAYING_S)
            level = measure_level(played, port.rate)
        found, problem = _round_trip(port)
    advice = _advice(level, found, played=not args.no_playing)
    _show(pair[0], level, quiet, found, port.rate, advice)
    if found is None:
        raise DeviceError(problem.what, problem.where, problem.hint)
    _keep(pair, found, port.rate)
    return 0


def _record(port: Any, record: Any, words: str, seconds: float) -> Any:
    print(f"{words} ({seconds:g} s) ...", file=sys.stderr, flush=True)
    return record(port, round(seconds * port.rate))


def _round_trip(port: Any) -> tuple[Any, CoachError]:
    """(RoundTrip or None, what was wrong)."""
    from coach.hear.roundtrip import find_round_trip, make_probe
    from coach.ports.roundtrip_io import record_probes

    print("Listening for six short sweeps ...", file=sys.stderr, flush=True)
    probe = make_probe(port.rate)
    sent = record_probes(port, probe)
    try:
        return find_round_trip(sent.samples, probe, sent.sent_frames, port.rate), CoachError("")
    except DeviceError:
        raise
    except CoachError as error:
        return None, error


def _advice(level: Any, found: Any, *, played: bool) -> tuple[str, ...]:
    from coach.hear.levels import FLOOR_DB

    given = [ADVICE[level.advice]] if played else []
    if level.loud_db <= FLOOR_DB:
        given = [SILENT + UNMUTE.get(sys.platform, UNMUTE_ELSEWHERE)]
    click_db = USUAL_CLICK_DB + (found.level_db if found else -200.0)
    if played and click_db > level.loud_db + HARMLESS_DB:
        given.append("The click comes back loud: wear headphones, or turn it down.")
    return (*given, HEARING)


def _show(
    device: str, level: Any, quiet: Any, found: Any, rate: int, advice: tuple[str, ...]
) -> None:
    from rich.console import Console

    from coach.screen import CheckResult, check_panel

    trip_ms = 1000 * found.frames / rate if found else None
    result = CheckResult(device, level.loud_db, quiet.noise_db, trip_ms, advice)
    Console().print(check_panel(result))


def _keep(pair: tuple[str, str], found: Any, rate: int) -> None:
    from coach.files.calibration import Calibration, store_round_trip

    spread_ms = 1000 * found.spread_frames / rate
    store_round_trip(*pair, Calibration(found.frames / rate, spread_ms, rate))
    print(f"Round trip {1000 * found.frames / rate:.1f} ms, kept for these devices.")
    if not book_path().exists():
        print("Now play: coach warmup, or for a first try coach drill scales-one-octave.")
