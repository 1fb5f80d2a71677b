"""JSON from others, spoiled: expected notes, lists of recordings, fingerings, records, places of
bars, event logs, calibrations."""

from __future__ import annotations

import contextlib
import io
import json
import sqlite3
from contextlib import closing
from functools import cache
from pathlib import Path
from random import Random
from typing import Any
from unittest.mock import patch

import numpy as np
import soundfile

from coach.cli import main
from coach.errors import CoachError
from coach.files.calibration import stored_round_trip
from coach.files.eventlog import EventLog, read_events
from coach.files.fingering import read_fingerings
from coach.files.positions import read_positions
from tests.fuzz.odd import as_json, spoiled, value, write_text
from tests.sharing import fill, leaving_records

EXPECT: dict[str, Any] = {
    "instrument": "double-horn",
    "anchor": "grid",
    "notes": [
        {"onset_s": 0.1, "duration_s": 0.12, "midi": 60, "slurred": False, "syllable": "ta"},
        {"onset_s": 0.3, "duration_s": 0.12, "midi": 62, "fingering": "T1"},
        {"onset_s": 0.5, "duration_s": 0.12, "midi": 64, "slurred": True, "syllable": "ka"},
    ],
    "clicks_s": [0.0, 0.5],
}
RATE = 16_000
# Pitch and length of the sound that is judged: two of the notes, somewhere.
TONES = ((60, 0.25), (62, 0.15))


def strict(text: str) -> Any:
    """JSON in which NaN and infinity are no numbers."""

    def refuse(word: str) -> None:
        raise AssertionError(f"{word} in JSON")

    return json.loads(text, parse_constant=refuse)


@cache
def sound() -> bytes:
    """A WAV of 0.6 s."""
    waves = [
        0.2 * np.sin(2 * np.pi * 440 * 2 ** ((midi - 69) / 12) * np.arange(int(s * RATE)) / RATE)
        for midi, s in TONES
    ]
    samples = np.concatenate([np.zeros(RATE // 10), *waves, np.zeros(RATE // 10)])
    made = io.BytesIO()
    soundfile.write(made, samples, RATE, format="WAV", subtype="PCM_16")
    return made.getvalue()


def said(error: CoachError) -> str:
    """ "error", of one sentence that a terminal can show."""
    words = str(error)
    assert words.isprintable(), repr(words)
    assert len(words) < 2000, words
    return "error"


def command(*words: object) -> tuple[int, str]:
    """Exit status and what was said on the error output; nothing comes out as a traceback."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        try:
            status = main([str(word) for word in words])
        except SystemExit as stop:
            status = int(stop.code or 0)
    assert status in (0, 2), err.getvalue()
    if status == 2:
        lines = err.getvalue().splitlines()
        assert lines
        assert all(line.startswith("coach: ") for line in lines), lines
    for printed in (out.getvalue(), err.getvalue()):
        assert printed.replace("\n", "").isprintable(), repr(printed)
    return status, err.getvalue()


def expected(random: Random, folder: Path) -> str:
    """One recording judged against spoiled notes."""
    (folder / "take.wav").write_bytes(sound())
    data = EXPECT if random.random() < 0.7 else {**EXPECT, "anchor": "free"}
    write_text(folder / "expect.json", as_json(spoiled(data, random), random), random)
    out = folder / "out.json"
    words = ("assess", folder / "take.wav", "--expect", folder / "expect.json", "--json", out)
    status, _ = command(*words)
    if status:
        return "error"
    result = strict(out.read_text("utf-8"))
    assert all(note["verdict"] for note in result["notes"])
    return "report"


def batch(random: Random, folder: Path) -> str:
    """A list with a spoiled line: the others are judged all the same."""
    (folder / "take.wav").write_bytes(sound())
    (folder / "expect.json").write_text(json.dumps(EXPECT), "utf-8")
    good = {"id": "good", "audio": "take.wav", "expect": "expect.json"}
    bad = spoiled({**good, "id": "bad"}, random, 1)
    text = as_json(bad, random).replace("\n", " ").replace("\r", " ")
    write_text(folder / "list.jsonl", f"{text}\n{json.dumps(good)}\n", random)
    out = folder / "out.jsonl"
    status, _ = command("assess", "--batch", folder / "list.jsonl", "--json", out)
    if status:
        return "error"
    lines = [strict(line) for line in out.read_text("utf-8").splitlines()]
    assert lines[-1]["id"] == "good"
    assert "error" not in lines[-1]
    assert len(lines) <= 2 or "\x85" in text or "\x0b" in text
    return "error in one" if any("error" in line for line in lines) else "reports"


def fingerings(random: Random, folder: Path) -> str:
    """The fingerings to be costed, in a command that uses them."""
    notes = ["0", "2", "T12", "T0"] * 2
    write_text(folder / "fixed.json", as_json(spoiled(notes, random), random), random)
    out = folder / "out.json"
    if random.random() < 0.8:
        with contextlib.suppress(CoachError):
            read_fingerings(folder / "fixed.json", 8)
        return "read"
    words = ("fingering", "lip-slurs-open-side", "--fixed", folder / "fixed.json", "--json", out)
    status, _ = command(*words)
    if status == 0:
        strict(out.read_text("utf-8"))
    return "error" if status else "plan"


@cache
def _records() -> tuple[str, ...]:
    """The lines of a file of records with something of everything."""
    import tempfile

    with tempfile.TemporaryDirectory() as name:
        path = Path(name) / "book.sqlite"
        fill(path, takes=2)
        return tuple(json.dumps(record) for record in leaving_records(path))


def records(random: Random, folder: Path) -> str:
    """A file of records taken in: all of it or nothing, and what it leaves can be read."""
    lines = [json.loads(line) for line in _records()]
    at = random.randrange(len(lines))
    texts = [json.dumps(line) for line in lines]
    texts[at] = as_json(spoiled(lines[at], random, 1), random).replace("\n", " ")
    if random.random() < 0.2:
        other = random.randrange(len(texts))
        texts[at], texts[other] = texts[other], texts[at]
    write_text(folder / "records.jsonl", "\n".join(texts) + "\n", random)
    home = folder / "home"
    with patch.dict("os.environ", {"COACH_HOME": str(home)}):
        status, _ = command("import", folder / "records.jsonl")
        if status:
            assert _takes(home / "practice.sqlite") == 0
            return "error"
        command(*random.choice([("review",), ("today",), ("player",), ("goal",), ("next",)]))
    return "taken in"


def _takes(path: Path) -> int:
    if not path.exists():
        return 0
    with closing(sqlite3.connect(path)) as db:
        ((count,),) = db.execute("SELECT COUNT(*) FROM takes")
    return int(count)


BARS: dict[str, Any] = {
    "format": "evenrun bars",
    "version": 1,
    "rate": 44100,
    "from": "sound",
    "places": [
        {"beat": "0", "frame": 44100, "sure": 0.93},
        {"beat": "7/2", "frame": 121275},
        {"beat": 4, "frame": 141275},
    ],
}


def positions(random: Random, folder: Path) -> str:
    data = spoiled(BARS, random)
    if random.random() < 0.2:
        data = json.loads(json.dumps(BARS).replace('"7/2"', random.choice(LONG_BEATS)))
    write_text(folder / "music.bars.json", as_json(data, random), random)
    try:
        found = read_positions(folder / "music.bars.json", 10**6)
    except CoachError as error:
        return said(error)
    assert 0 < found.usual_bpm < 2000
    return "places"


LONG_BEATS = ('"1e999999999"', '"1e-99999999"', '"7e0"', '" 7/2 "', '"nan"', '"inf"')


def events(random: Random, folder: Path) -> str:
    """An event log: what is written can be read, whatever is in it; what is spoiled is told."""
    path = folder / "events.jsonl"
    event = {"event": "x", "what": value(random)}
    with EventLog(path) as log:
        log.write(event)
    (line,) = path.read_text("ascii").splitlines()
    strict(line)
    assert [one["event"] for one in read_events(path)] == ["x"]
    write_text(path, as_json(spoiled({"event": "verdict"}, random), random) + "\n", random)
    try:
        read_events(path)
    except CoachError:
        return "error"
    return "events"


def calibration(random: Random, folder: Path) -> str:
    good = {"a | b": {"seconds": 0.01, "spread_ms": 0.1, "rate": 48000}}
    write_text(folder / "calibrations.json", as_json(spoiled(good, random), random), random)
    with patch.dict("os.environ", {"COACH_HOME": str(folder)}):
        found = stored_round_trip("a", "b")
    if found is None:
        return "nothing"
    assert isinstance(found.rate, int)
    assert 0 < found.rate < 10**6
    assert abs(found.seconds) < 10
    return "calibration"
