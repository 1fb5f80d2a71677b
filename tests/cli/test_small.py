"""The coach with no more than .small.txt asks for: what works, and what it says where it does not.

All runs are of one process in which every other installed package is missing.
"""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from importlib.metadata import PackageNotFoundError, packages_distributions, requires
from pathlib import Path

import pytest

from tests.files.musicxml.making import attributes, bars, note, partwise

ROOT = Path(__file__).resolve().parents[2]

RUN = """
import contextlib, io, json, sys, traceback
for name in json.loads(sys.argv[1]):
    sys.modules[name] = None
from coach.cli import main
told = []
for line in sys.argv[2:]:
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        try:
            status = main(line.split())
        except SystemExit as end:
            status = end.code
        except BaseException:
            status = 1
            traceback.print_exc()
    told.append((status, out.getvalue(), err.getvalue()))
json.dump(told, sys.__stdout__)
"""
WORKS = (
    "--help",
    "drills",
    "instrument double-horn",
    "passage march.musicxml --part 1 --bars 1-2 --json passage.json",
    "fingering march.musicxml --part 1 --bars 1-2 --json fingering.json",
    "tonguing march.musicxml --part 1 --bars 1-2 --json tonguing.json",
    "drill one-note-sixteenths --input player --fast --takes 1 --plain",
    "review",
    "review --html week.html",
    "today --minutes 20",
    "next",
    "goal",
    "player",
    "listen --list",
    "export me.jsonl",
    "export takes.csv",
)
# What lacks a package, and how to install it.
LACKS = {
    "sheet one-note-sixteenths --out sheet.pdf": "verovio",
    "assess take.wav --expect expect.json": "soundfile",
    "drill one-note-sixteenths --input take.wav": "soundfile",
    "learn --input take.wav --out learnt --count-in 0 --yes": "aubio-ledfx",
}
MIDI = "drill one-note-sixteenths --input midi --silent --device nobody-has-this"


def with_needed(packages: set[str]) -> set[str]:
    """These and all that they need, as far as they are installed."""
    found: set[str] = set()
    left = set(packages)
    while left:
        one = plain(left.pop())
        if one in found:
            continue
        found.add(one)
        try:
            left |= {line for line in requires(one) or () if "extra ==" not in line}
        except PackageNotFoundError:
            continue
    return found


def plain(requirement: str) -> str:
    """The name of a package as all its spellings have it."""
    name = re.split(r"[^A-Za-z0-9._-]", requirement, maxsplit=1)[0]
    return re.sub(r"[-_.]+", "-", name).lower()


@pytest.fixture(scope="module")
def told(tmp_path_factory):
    """(status, output, errors) of each command line."""
    lines = (ROOT / ".small.txt").read_text().splitlines()
    allowed = with_needed({line for line in lines if not line.startswith("#")})
    blocked = [
        module
        for module, brought_by in packages_distributions().items()
        if not {plain(name) for name in brought_by} & allowed and module != "coach"
    ]
    for module in ("aubio", "scipy", "soundfile", "typst", "verovio"):
        assert module in blocked
    folder = tmp_path_factory.mktemp("small")
    part = bars(*[attributes(divisions=2) + note("C4", 1) * 8] * 2)
    (folder / "march.musicxml").write_bytes(partwise(part))
    (folder / "take.wav").write_bytes(b"no matter what")
    notes = [{"onset_s": 0.5, "duration_s": 0.2, "midi": 60}]
    (folder / "expect.json").write_text(json.dumps({"notes": notes}))
    commands = [*WORKS, *LACKS, MIDI]
    done = subprocess.run(
        [sys.executable, "-c", RUN, json.dumps(blocked), *commands],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": str(ROOT), "COACH_HOME": str(folder / "home")},
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr
    return dict(zip(commands, json.loads(done.stdout), strict=True))


@pytest.mark.parametrize("command", WORKS)
def test_works_without_what_it_does_not_need(told, command):
    status, output, errors = told[command]
    assert status == 0, errors
    assert output or "--json" in command
    assert "Traceback" not in errors


def test_takes_are_kept_though_their_sound_can_not_be(told):
    _, output, errors = told["drill one-note-sixteenths --input player --fast --takes 1 --plain"]
    assert "1 take done" in output
    assert "the sound of the takes can't be kept: sound files need the package" in output + errors
    assert "1 take of" in told["export me.jsonl"][1]


@pytest.mark.parametrize("command", LACKS)
def test_what_is_missing_is_named_in_one_sentence(told, command):
    status, _, errors = told[command]
    assert status == 2
    assert errors.startswith("coach: ")
    assert errors.count("\n") == 1
    assert errors.endswith(f"python -m pip install {LACKS[command]}.\n")


def test_midi_is_asked_for_its_ports(told):
    """As far as it goes on a computer with none: no library is missed on the way."""
    status, _, errors = told[MIDI]
    assert status in (2, 3)
    assert "MIDI" in errors.splitlines()[-1]
    assert "pip install" not in errors
    assert "Traceback" not in errors
