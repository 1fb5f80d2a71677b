"""A passage played slowly to a click becomes a drill that plays it."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace
from fractions import Fraction
from random import Random

import numpy as np
import pytest

from coach.core.exercise import ClickStyle, Exercise
from coach.core.passage import Note, Passage
from coach.core.timeline import count_in_frames, plan_take
from coach.files.audio import write_audio
from coach.files.drillshelf import load_drill
from coach.ports.click import ClickTrack
from coach.ports.player.skill import STEADY, perform
from coach.ports.player.tone import render
from tests.cli.test_bad_input import ROOT, coach, refused

RATE = 48_000
HALF, QUARTER = Fraction(2), Fraction(1)


def passage_of(*notes: tuple[int, Fraction | int | float]) -> Passage:
    """(pitch or 0 for a rest, beats), one after the other."""
    made, at = [], Fraction(0)
    for pitch, beats in notes:
        if pitch:
            made.append(Note(pitch, at, Fraction(beats)))
        at += Fraction(beats)
    return Passage(tuple(made))


PLAYED = passage_of(
    (53, 1), (55, 0.5), (57, 0.5), (58, 1), (0, 1),
    (60, 0.5), (58, 0.5), (57, 0.5), (55, 0.5), (53, 2),
)  # fmt: skip


@pytest.fixture(scope="module")
def recording(tmp_path_factory):
    """Two bars at 72 with their count-in, the click 10 dB under the horn, a little noise."""
    exercise = Exercise(PLAYED, 72, click=ClickStyle(level_db=-34))
    plan = plan_take(exercise, RATE, count_in_frames(exercise, RATE))
    notes = perform(plan, replace(STEADY, jitter_ms=10.0, lean_ms=15.0), Random(3))
    length = plan.end_frame + RATE
    sound = render(notes, RATE, 0, length) + ClickTrack(plan).render(0, length)
    noise = np.random.default_rng(1).standard_normal(length) * 10 ** (-65 / 20)
    path = tmp_path_factory.mktemp("learn") / "played.wav"
    write_audio(path, (sound + noise).astype(np.float32), RATE)
    return path


def learned(recording, tmp_path, *options):
    path = tmp_path / "learned.toml"
    done = coach("learn", "--input", recording, "--bpm", 72, "--bars", 2, "--out", path, *options)
    assert done.returncode == 0, done.stderr
    return done, path


def rhythm(passage):
    return [(n.pitch, n.start_beats, n.length_beats) for n in passage.notes]


@pytest.mark.parametrize("grid", ["auto", "1/8", "1/16"])
def test_what_was_played_stands_in_the_drill(recording, tmp_path, grid):
    done, path = learned(recording, tmp_path, "--yes", "--grid", grid)
    drill, _ = load_drill(path)
    assert rhythm(drill.variants[0]) == rhythm(PLAYED)
    assert (drill.from_bpm, drill.to_bpm) == (72, 144)
    assert "bar 1:  C4 1/4   D4 1/8   E4 1/8   F4 1/4   rest 1/4" in done.stdout


def test_a_name_goes_among_the_players_own_drills(recording, tmp_path):
    done = coach("learn", "--input", recording, "--bpm", 72, "--bars", 2, "--out", "mine", "--yes")
    assert done.returncode == 0, done.stderr
    assert "mine" in coach("drills").stdout
    again = coach("learn", "--input", recording, "--bpm", 72, "--bars", 2, "--out", "mine", "--yes")
    refused(again, "already", "--replace")


@pytest.mark.parametrize(("answer", "kept"), [("y\n", True), ("what\nn\n", False)])
def test_the_player_is_asked(recording, tmp_path, answer, kept):
    path = tmp_path / "asked.toml"
    command = [sys.executable, "-m", "coach", "learn", "--input", str(recording)]
    done = subprocess.run(
        [*command, "--bpm", "72", "--bars", "2", "--out", str(path)],
        input=answer, capture_output=True, text=True, cwd=ROOT, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert path.exists() == kept


def test_nobody_there_to_answer(recording, tmp_path):
    path = tmp_path / "x.toml"
    done = coach("learn", "--input", recording, "--bpm", 72, "--bars", 2, "--out", path)
    assert done.returncode == 2
    assert "--yes" in done.stderr
    assert not path.exists()


def test_silence_is_said(tmp_path):
    path = tmp_path / "silence.wav"
    write_audio(path, np.zeros(8 * RATE, np.float32), RATE)
    done = coach("learn", "--input", path, "--out", tmp_path / "x.toml", "--yes")
    assert done.returncode == 2
    assert "no notes were heard" in done.stderr


@pytest.mark.parametrize(
    "options",
    [
        ["--bpm", "5"], ["--bars", "0"], ["--grid", "1/7"], ["--meter", "4/5"], ["--key", "H"],
        ["--instrument", "comb"], ["--to", "10"], ["--count-in", "0"], ["--input", "nothing.wav"],
    ],
)  # fmt: skip
def test_options_out_of_range(tmp_path, options):
    done = coach("learn", "--out", tmp_path / "x.toml", *options)
    refused(done, options[1] if options[0] != "--count-in" else "--count-in")
    assert "command line" not in done.stderr
    assert options[0] in done.stderr or options[0] == "--instrument"


def test_midi_notes_are_taken_as_one_voice():
    """An overlapping legato: the last note wins, and joins; a note let go leaves a rest."""
    from coach.cli.listening import Recording, heard_notes
    from coach.core.take import NoteEvent

    plan = plan_take(Exercise(PLAYED, 60), RATE, 4 * RATE)
    events = [(4.0, 53, 1), (5.1, 55, 1), (5.2, 53, 0), (5.5, 55, 0), (7.0, 57, 1), (7.5, 57, 0)]
    notes = tuple(NoteEvent(round(s * RATE), p, 64 * on, bool(on)) for s, p, on in events)
    heard = heard_notes(Recording(0, None, notes), plan, 34)
    assert [(h.pitch, h.joined) for h in heard] == [(53, False), (55, True), (57, False)]
    assert [h.start_beats for h in heard] == pytest.approx([0, 1.1, 3])
    assert [h.end_beats for h in heard] == pytest.approx([1.1, 1.5, 3.5])
