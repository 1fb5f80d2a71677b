"""`coach assess`: judge a recording, or many, against the notes they should hold."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

from coach.cli.saying import print
from coach.errors import CoachError, FileError, reason_of

# Windows waits for no more at once (concurrent.futures refuses a larger number there).
MOST_PROCESSES = 61


def add(commands: Any) -> None:
    parser = commands.add_parser("assess", help="judge a recording against the expected notes")
    parser.add_argument("audio", nargs="?", type=Path, help="WAV, FLAC, OGG, MP3 or AIFF")
    parser.add_argument("--expect", type=Path, help="the expected notes (JSON)")
    parser.add_argument("--json", type=Path, metavar="OUT", help="write the result here")
    parser.add_argument("--batch", type=Path, metavar="LIST", help="many: one JSON object a line")
    parser.add_argument("--jobs", type=int, default=1, help="processes for --batch")
    parser.add_argument("--rules", default="normal", help="a set of configs/rules.toml")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    if args.batch is not None:
        return _run_batch(args)
    if args.audio is None or args.expect is None:
        raise CoachError("nothing to judge", "assess", "give AUDIO --expect FILE, or --batch LIST")
    _check_free(args)
    report, expected = judge_file(args.audio, args.expect, args.rules)
    if args.json is None:
        from coach.cli.show import show_report
        from coach.files.configs import load_rules

        show_report(report, expected, load_rules(args.rules))
    else:
        _write(args.json, [report.to_dict()])
    return 0


def _check_free(args: argparse.Namespace) -> None:
    from coach.files.output import check_result

    if args.json is not None:
        check_result(args.json)


def judge_file(audio: Path, expect: Path, rules_name: str) -> tuple[Any, Any]:
    """(Report, Expected) of one recording; CoachError says what is wrong with it."""
    from coach.assessment import Expected, assess
    from coach.files.audio import read_audio
    from coach.files.configs import load_instrument, load_rules

    try:
        expected = Expected.from_dict(_read_json(expect))
        load_instrument(expected.instrument)
    except FileError:
        raise
    except CoachError as error:
        hint = error.hint or "coach help assess shows what it should hold"
        raise FileError(_told(error), str(expect), hint) from None
    samples, rate = read_audio(audio)
    return assess(samples, rate, expected, rules=load_rules(rules_name)), expected


def _read_json(path: Path) -> Any:
    text = _text(path)
    try:
        return json.loads(text)
    except json.JSONDecodeError as error:
        what = f"line {error.lineno} is not JSON ({error.msg})"
        raise FileError(what, str(path), "check quotes, commas and brackets there") from None
    except (ValueError, RecursionError):
        what = "it is not JSON (a number is too long, or brackets too deep)"
        raise FileError(what, str(path), "check its numbers and brackets") from None


def _text(path: Path) -> str:
    try:
        return path.read_text("utf-8-sig")
    except (OSError, ValueError) as error:
        raise FileError(
            f"it can't be read ({_unread(error)})", str(path), "check the name"
        ) from None


def _told(error: CoachError) -> str:
    return f"{error.where}: {error.what}" if error.where else error.what


def _unread(error: Exception) -> str:
    return "it is not text" if isinstance(error, UnicodeDecodeError) else reason_of(error)


def _run_batch(args: argparse.Namespace) -> int:
    if args.json is None:
        raise CoachError("--batch needs a file for its results", "assess", "add --json OUT")
    if args.jobs < 1:
        raise CoachError(f"--jobs {args.jobs} is less than one process", "", "use 1 or more")
    _check_free(args)
    lines = _lines(args.batch)
    tasks = [(line, args.batch.parent, args.rules) for line in lines]
    bad = _write(args.json, _results(tasks, args.jobs))
    if bad:
        what = f"{bad} of {len(tasks)} could not be judged; {args.json} says why"
        print(f"coach: {what}", file=sys.stderr)
    return 0


def _lines(path: Path) -> list[str]:
    # A JSON text may hold what `splitlines` takes for the end of one.
    return [line for line in _text(path).split("\n") if line.strip()]


def _results(tasks: list[tuple[str, Path, str]], jobs: int) -> Iterator[dict[str, Any]]:
    if jobs == 1 or len(tasks) < 2:
        yield from _counted(map(_one, tasks), len(tasks))
        return
    from concurrent.futures import ProcessPoolExecutor

    with ProcessPoolExecutor(min(jobs, len(tasks), MOST_PROCESSES)) as pool:
        yield from _counted(pool.map(_one, tasks), len(tasks))


def _counted(results: Iterator[dict[str, Any]], total: int) -> Iterator[dict[str, Any]]:
    """Show progress on a terminal while results come in."""
    for done, result in enumerate(results, 1):
        if sys.stderr.isatty():
            print(f"\r{done} of {total}", end="\n" if done == total else "", file=sys.stderr)
        yield result


def _one(task: tuple[str, Path, str]) -> dict[str, Any]:
    """Judge one line of a batch; a bad one becomes its id and one sentence."""
    line, folder, rules = task
    entry = _entry(line)
    name, audio, expect = (entry.get(key) for key in ("id", "audio", "expect"))
    if not (isinstance(audio, str) and isinstance(expect, str)):
        return {"id": name, "error": 'the line is not {"id", "audio", "expect"}.'}
    try:
        report, _ = judge_file(folder / audio, folder / expect, rules)
    except CoachError as error:
        return {"id": name, "error": str(error)}
    except Exception as error:  # a mistake of ours: the others are judged all the same
        what = f"it could not be judged ({type(error).__name__}: {error})."
        return {"id": name, "error": what}
    return {"id": name, **report.to_dict()}


def _entry(line: str) -> dict[str, Any]:
    """The object in the line; empty if there is none, or its id could not be given back: JSON has
    no word for NaN or infinity."""
    try:
        entry = json.loads(line)
        json.dumps(entry, allow_nan=False)
    except (ValueError, RecursionError):
        return {}
    return entry if isinstance(entry, dict) else {}


def _write(path: Path, results: Iterable[dict[str, Any]]) -> int:
    """One JSON object a line, as the results come in; how many of them are errors."""
    bad = 0
    try:
        with path.open("w", encoding="utf-8", newline="\n") as out:
            for result in results:
                out.write(json.dumps(result) + "\n")
                out.flush()
                bad += "error" in result
    except OSError as error:
        hint = "name a file in a folder that you may write to"
        raise FileError(f"it can't be written ({reason_of(error)})", str(path), hint) from None
    return bad
