"""Several players at once on a sound card and by MIDI: who leads and who lags."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from random import Random

import mido
import numpy as np
import pytest

from coach.core.exercise import Exercise
from coach.core.score.choose import Choice
from coach.core.timeline import Plan, plan_take
from coach.files.scoretutti import score_tutti
from coach.ports.player.skill import STEADY, perform
from coach.ports.player.tone import render
from tests.cli.test_tutti import TICKS, track
from tests.studio.conftest import RATE

pytestmark = pytest.mark.studio

PICKUP_FRAMES = RATE // 2
TEMPO_BPM = 100
RUN = [60, 62, 64, 65, 67, 65, 64, 62]
# Two by microphone and two by MIDI; below 0: ahead of the beat.
HABITS_MS = (-22.0, 4.0, 15.0, 3.0)
SEATS = ("mic:1", "mic:2", "midi:player3:notes", "midi:player4:notes")
HUMAN = replace(STEADY, jitter_ms=6.0)


def write_score(path: Path, players: int) -> Path:
    """A bar of rest, then two bars of runs a third apart, over a bass."""
    made = mido.MidiFile(ticks_per_beat=TICKS)
    made.tracks.append(
        mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(TEMPO_BPM))])
    )
    for number in range(players):
        run = [pitch - 3 * number for pitch in RUN]
        made.tracks.append(track(f"Horn {number + 1}", 60, [[], run, run]))
    made.tracks.append(track("Bass", 43, [[36]] * 3))
    made.save(path)
    return path


def plan_of(score: Path, number: int) -> Plan:
    drill, player, _ = score_tutti(score, Choice(f"Horn {number}", "2-3"), 1)
    exercise = Exercise(drill.variants[0], TEMPO_BPM, player.transposition, drill.click, drill.warp)
    return plan_take(exercise, RATE, PICKUP_FRAMES)


def order_of(plan: Plan, number: int, habit_ms: float, folder: Path) -> dict:
    """A take of this player, as sound or as MIDI."""
    late = round(habit_ms * RATE / 1000)
    order = {"do": "take", "count_in": 4, "downbeat_frame": PICKUP_FRAMES, "delay_frames": late}
    played = perform(plan, HUMAN, Random(number))
    if SEATS[number - 1].startswith("mic"):
        audio = folder / f"player{number}.npy"
        np.save(audio, render(played, RATE, 0, plan.end_frame + RATE // 2, seed=number))
        return {**order, "audio": str(audio)}
    notes = []
    for note in played:
        at, pitch = note.frame - PICKUP_FRAMES, round(note.pitch)
        notes += [[at, [0x90, pitch, 90]], [at + 3000, [0x80, pitch, 0]]]
    return {**order, "notes": sorted(notes)}


@pytest.mark.parametrize("players", [2, 4])
def test_leads_and_lags_are_found_within_5_ms(studio, tmp_path, players):
    """Two by microphone, and two by MIDI beside them."""
    score = write_score(tmp_path / "runs.mid", players)
    events = tmp_path / "events.jsonl"
    orchestra = [studio.player(number + 1) for number in range(players)]
    seats = [f"--seat=Horn {k + 1}={SEATS[k]}" for k in range(players)]
    words = (str(score), "--bars", "2-3", "--lead", "1", "--tempo", str(TEMPO_BPM))
    options = ("--takes", "1", "--plain", "--simple-sound", "--headphones", "--no-sound")
    folder = str(tmp_path)
    coach = studio.start(
        "-m", "coach", "tutti", *words, *seats, *options, "--events", str(events), COACH_HOME=folder
    )
    for number, player in enumerate(orchestra, 1):
        habit_ms = HABITS_MS[number - 1]
        player.send(order_of(plan_of(score, number), number, habit_ms, tmp_path))
    told, trouble = coach.communicate(timeout=60)
    assert coach.returncode == 0, trouble
    (section,) = [
        event
        for event in map(json.loads, events.read_text("utf-8").splitlines())
        if event["event"] == "section"
    ]
    assert min(section["accuracies"]) > 0.8, told
    middle = sum(HABITS_MS[:players]) / players
    for one, habit_ms in zip(section["standings"], HABITS_MS, strict=False):
        assert one["late_ms"] == pytest.approx(habit_ms - middle, abs=5), section["standings"]
    two = "Horn 1 is ahead of Horn 2 by"
    assert (two if players == 2 else "Horn 1: wait for the others.") in told


def test_how_late_an_instrument_sounds_is_measured_and_kept(studio, tmp_path):
    """By the microphone; the server hands sound on a period later."""
    late_ms = 45
    studio.player().send({"do": "answer", "delay_frames": late_ms * RATE // 1000})
    coach = studio.start(
        "-m", "coach", "check", "--ensemble-midi", "drums", COACH_HOME=str(tmp_path)
    )
    told, trouble = coach.communicate(timeout=60)
    assert coach.returncode == 0, trouble
    (kept,) = json.loads((tmp_path / "calibrations.json").read_text("utf-8")).values()
    assert 1000 * kept["seconds"] == pytest.approx(late_ms, abs=12), told
    assert kept["spread_ms"] < 3
