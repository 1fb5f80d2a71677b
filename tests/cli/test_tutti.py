"""`coach tutti` with an invented player: the excerpt, its lead-in, its tempo, its click."""

from __future__ import annotations

import io
import json
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import mido
import numpy as np
import pytest
from rich.console import Console

from coach.book.practice import PracticeBook
from coach.cli import main
from coach.cli.record import book_path
from coach.cli.stage import Stage
from coach.core.exercise import Exercise
from coach.core.judge import Judge, judge_take
from coach.core.score.choose import Choice
from coach.core.take import Chunk, Take
from coach.core.timeline import plan_take
from coach.core.tutti.fit import fit_of
from coach.core.tutti.mixer import first_mix
from coach.core.tutti.words import fit_sentences
from coach.files.configs import load_keys, load_rules
from coach.files.scoretutti import score_tutti
from coach.hear.follow.ear import FollowEar
from coach.ports.click import ClickTrack
from coach.ports.ensemble.midi import EnsembleMidiPort
from coach.ports.ensemble.synth import Synthesis
from coach.ports.keys import Aside, Keys
from coach.screen.stage import StagePlain, StageScreen, mix_lines
from tests.book.making import take_of
from tests.making import attacks_of

PLAY = ["--input", "player", "--fast", "--plain", "--seed", "3", "--simple-sound"]
TICKS = 480
HORN = [60, 62, 64, 65, 67, 65, 64, 62]
PASSAGE = take_of().plan.exercise.passage


def track(name: str, program: int, bars: list[list[int]]) -> mido.MidiTrack:
    """Bars of 4/4 with notes of equal length."""
    made = mido.MidiTrack([mido.MetaMessage("track_name", name=name)])
    made.append(mido.Message("program_change", program=program))
    wait = 0
    for bar in bars:
        if not bar:
            wait += 4 * TICKS
        for pitch in bar:
            made.append(mido.Message("note_on", note=pitch, velocity=80, time=wait))
            made.append(mido.Message("note_off", note=pitch, time=4 * TICKS // len(bar)))
            wait = 0
    return made


def write_score(path: Path) -> Path:
    """Six bars: the horn rests for two; the tempo is 120, from bar 5 on 90."""
    made = mido.MidiFile(ticks_per_beat=TICKS)
    marks = mido.MidiTrack(
        [
            mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(120)),
            mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(90), time=16 * TICKS),
        ]
    )
    made.tracks += [
        marks,
        track("Oboe", 68, [[72, 71]] * 6),
        track("Horn", 60, [[], [], HORN, HORN, HORN, HORN]),
        track("Bass", 43, [[36]] * 6),
    ]
    made.save(path)
    return path


@pytest.fixture
def score(tmp_path):
    return write_score(tmp_path / "evening.mid")


def played(score, tmp_path, *options: str) -> list[dict]:
    events = tmp_path / "events.jsonl"
    words = [str(score), "--part", "Horn", "--bars", "3-6", "--takes", "1", *options]
    assert main(["tutti", *words, *PLAY, "--events", str(events)]) == 0
    return [json.loads(line) for line in events.read_text("utf-8").splitlines()]


def test_the_lead_in_and_the_tempo_changes_are_in_the_plan(score, tmp_path, capsys):
    start, *_ = [e for e in played(score, tmp_path, "--tempo", "60") if e["event"] == "take_start"]
    onsets = [note["onset_s"] for note in start["expected"]]
    assert len(onsets) == 32
    # At half the tempo: two bars of rest and two bars at 60, then two at 45.
    assert onsets[0] == pytest.approx(8.0, abs=1e-4)
    assert onsets[16] == pytest.approx(16.0, abs=1e-4)
    assert onsets[31] == pytest.approx(16 + 15 * 0.5 * 60 / 45, abs=1e-4)


def test_takes_are_kept_apart_from_those_alone(score, tmp_path, capsys):
    played(score, tmp_path, "--tempo", "60", "--lead", "0")
    with PracticeBook(book_path()) as book:
        (row,) = book.take_rows()
        (kept,) = book.takes()
    assert row.drill == "evening-horn-bars-3-6-tutti"
    assert row.title == "evening, Horn, bars 3-6, tutti"
    assert row.clean > 20
    assert kept.plan.exercise.warp is not None


def test_the_click_goes_away_with_the_takes_that_pass(score, tmp_path, capsys):
    from coach.core.exercise import ClickStyle, Drill
    from coach.core.tutti.guide import FADE_DB, FADE_STEPS, TuttiGuide

    drill = Drill("d", "D", "", (PASSAGE,), click=ClickStyle(level_db=-12.0))
    guide = TuttiGuide(drill, 0, fades=True)
    passed = _report(True)
    levels = []
    for _ in range(FADE_STEPS):
        levels.append(guide.exercise().click.level_db)
        guide.after(_report(False))
        guide.after(passed)
    assert levels == [-12.0 - FADE_DB * k for k in range(FADE_STEPS)]
    assert guide.exercise().click.off_bars == (0, 1)
    assert TuttiGuide(drill, 0, clicks=False).exercise().click.off_bars == (0, 1)


def _report(passed: bool):
    return replace(judge_take(take_of(), load_rules()), passed=passed)


def test_without_a_click_the_count_in_still_sounds(score, tmp_path, capsys):
    played(score, tmp_path, "--tempo", "60", "--no-click")
    with PracticeBook(book_path()) as book:
        (kept,) = book.takes()
    plan = kept.plan
    assert plan == plan_take(plan.exercise, plan.rate, plan.downbeat_frame)
    assert len(plan.clicks) == 4
    assert all(click.frame < plan.downbeat_frame for click in plan.clicks)


def test_how_it_fitted_in_is_said_after_the_take(score, tmp_path, capsys):
    events = played(score, tmp_path, "--tempo", "60")
    (fit,) = [event for event in events if event["event"] == "fit"]
    told = capsys.readouterr().out
    _, _, ensemble = score_tutti(score, Choice("Horn", "3-6"), 2)
    with PracticeBook(book_path()) as book:
        (take,) = book.takes()
    found = fit_of(judge_take(take, load_rules()), take.plan, ensemble)
    assert all(told.count(sentence) == 1 for sentence in fit_sentences(found))
    assert fit["take"] == 1
    assert fit["entries"] == found.to_dict()["entries"] != []


class Base:
    """Stands for the port of a sound card."""

    rate = 48_000

    def __init__(self):
        self.track = None

    def earliest_frame(self):
        return 0

    def play(self, track):
        self.track = track

    def read(self):
        time.sleep(0.01)


def test_the_keys_of_the_mixer_are_heard(score):
    _, _, ensemble = score_tutti(score, Choice("Horn", "3-6"), 2)
    stage = Stage(ensemble, first_mix(ensemble), Synthesis)
    base = Base()
    port = stage.around(base)
    plan = plan_take(Exercise(PASSAGE, 120.0), 48_000, 96_000)
    port.begin(plan)
    assert stage.mix.chosen == 0
    for command in ("mute", "voice", "voice", "softer"):
        stage.command(command)
    assert stage.mix.muted == {0, 1}
    assert stage.mix.levels_db[2] < 0
    port.set_mix(stage.mix)
    for command in ("bass", "everybody", "neighbours", "solo", "louder"):
        stage.command(command)
    port.end()


def test_the_ear_hears_through_what_was_played_out(score):
    """The microphone hears nothing but the ensemble, louder than it ever is.  The player's own line
    is in it here, so that an ear that takes nothing away hears every note."""
    drill, _, ensemble = score_tutti(score, Choice("Horn", "3-6"), 2)
    stage = Stage(ensemble, first_mix(ensemble, 0.0), Synthesis)
    base = Base()
    port = stage.around(base)
    plan = plan_take(Exercise(drill.variants[0], 120.0, warp=drill.warp), 48_000, 96_000)
    port.begin(plan)
    while not port.ready:
        port.read()
    base.track.render(plan.start_frame, plan.end_frame - plan.start_frame + 96_000)
    ears = (stage.ear(plan), FollowEar(plan.dues, plan.rate))
    through, plain = (_clean_notes(ear, port, plan) for ear in ears)
    port.end()
    assert plain >= 24
    assert through <= plain / 3


def _clean_notes(ear, port, plan) -> int:
    judge = Judge(plan.dues, load_rules(), plan.rate)
    for frame in range(plan.start_frame, plan.end_frame + 48_000, 4800):
        judge.step(ear.feed(Chunk(frame, 4800, 0.5 * port.heard_out(frame - 700, 4800))))
    judge.step(ear.finish())
    judge.finish(follows=True)
    return judge.report().counts.get("clean", 0)


def test_an_instrument_on_a_midi_output_can_play_it(score):
    _, _, ensemble = score_tutti(score, Choice("Horn", "3-6"), 2)
    stage = Stage(ensemble, first_mix(ensemble), None, "somewhere", 12.0)
    port = stage.around(Base())
    assert isinstance(port, EnsembleMidiPort)
    stage.command("mute")
    assert stage.mix.muted == {0, 1}


def test_the_keys_move_a_voice_aside_to_the_sound_card(score):
    _, _, ensemble = score_tutti(score, Choice("Horn", "3-6"), 2)
    stage, base = Stage(ensemble, first_mix(ensemble), Synthesis), Base()
    port = stage.around(base)
    plan = plan_take(Exercise(PASSAGE, 120.0), 48_000, 96_000)
    port.begin(plan)
    keys = Keys(load_keys()["mixer"])
    pressed = ["solo", *[keys._commands[key] for key in "dddd"]]
    Aside(_Pressed(pressed), stage.command).poll()
    while not port.ready:
        port.read()
    sound = base.track.render(plan.downbeat_frame, 48_000)
    port.end()
    assert stage.mix.pans == (-1.0, 0.0, 0.0)
    assert [line.pan for line in mix_lines(ensemble, stage.mix)] == [-1.0, 0.0, 0.0]
    clicks = ClickTrack(plan).render(plan.downbeat_frame, 48_000)
    assert not np.array_equal(sound[:, 0], clicks)
    np.testing.assert_array_equal(sound[:, 1], clicks)
    assert keys._commands["f"] == "right"
    assert stage.notice == ""


def test_where_the_microphone_hears_it_left_and_right_only_say_why(score):
    from coach.core.gate import Gate, Pace
    from coach.core.view import View

    drill, _, ensemble = score_tutti(score, Choice("Horn", "3-6"), 2)
    stage = Stage(ensemble, first_mix(ensemble), Synthesis)
    stage.in_room = True
    plan = plan_take(Exercise(drill.variants[0], 60.0), 48_000, 96_000)
    view = View("E", "playing", plan, 0, None, (), Pace(60.0, 60.0, 90.0), Gate(), frame=96_000)
    plain, drawn = io.StringIO(), io.StringIO()
    console = Console(file=drawn, force_terminal=True, width=80, height=24, color_system=None)
    screen = StagePlain(plain, ensemble, lambda: stage.notice)
    with StageScreen(console, ensemble, lambda: stage.mix, notice=lambda: stage.notice) as live:
        for command in ("left", "right", "mute", "left"):
            stage.command(command)
            assert not stage.mix.wide
            for phase in ("playing", "rest"):
                drawn.truncate(drawn.seek(0))
                for one in (screen, live):
                    one.draw(replace(view, phase=phase, plan=plan if phase == "playing" else None))
                assert ("need headphones" in drawn.getvalue()) == (command != "mute")
    assert plain.getvalue().count("need headphones") == 1
    stage.command("louder")
    assert stage.notice == ""


def test_commands_for_the_mix_never_stop_the_take():
    pressed = _Pressed(["mute", "go", "voice"])
    given = []
    assert Aside(pressed, given.append).poll() == ["go"]
    assert given == ["mute", "voice"]
    assert Aside(pressed).poll() == ["go"]


class _Pressed:
    def __init__(self, commands):
        self._commands = commands

    def poll(self):
        return self._commands


def test_the_conductor_s_view_while_it_plays_and_the_fit_after(score):
    from coach.core.gate import Gate, Pace
    from coach.core.view import View

    drill, _, ensemble = score_tutti(score, Choice("Horn", "3-6"), 2)
    plan = plan_take(Exercise(drill.variants[0], 60.0, warp=drill.warp), 48_000, 96_000)
    out = io.StringIO()
    console = Console(file=out, force_terminal=True, width=80, height=24, color_system=None)
    pace = Pace(60.0, 60.0, 90.0)
    view = View("Evening", "playing", plan, 0, None, (), pace, Gate(), frame=96_000)
    mix = first_mix(ensemble)
    with StageScreen(console, ensemble, lambda: mix) as screen:
        screen.draw(view)
        playing = out.getvalue()
        take = Take(1, plan, tuple(attacks_of(plan, {20: 3000})), (), False)
        report = judge_take(take, load_rules())
        screen.draw(replace(view, phase="rest", plan=None, last=report, last_plan=plan))
    assert "entry in 2 bars" in playing
    assert "> Oboe 0 dB" in playing
    assert "Horn muted" in playing
    sentence = fit_sentences(fit_of(report, plan, ensemble))[0]
    assert " ".join(sentence.split()[:4]) in out.getvalue()


@pytest.mark.parametrize(
    ("options", "sentence"),
    [
        (["--part", "Flute"], 'there is no part "Flute"'),
        (["--part", "Horn", "--bars", "1-2"], "no notes in these bars"),
        (["--part", "Horn", "--lead", "99"], "--lead 99 is out of range"),
        (["--part", "Horn", "--own", "3"], "--own 3 is out of range"),
        (["--part", "Horn", "--sound-font", "none.sf2"], "there is no such SoundFont"),
        (["--part", "Horn", "--tempo", "60", "--to", "90"], "--tempo is the only tempo"),
        ([], "choose one with --part"),
    ],
)
def test_what_can_not_be_played(score, capsys, options, sentence):
    assert main(["tutti", str(score), *options, *PLAY[:-1]]) == 2
    assert sentence in capsys.readouterr().err


def test_a_drill_is_no_ensemble(capsys):
    assert main(["tutti", "turns", *PLAY]) == 2
    assert "an ensemble needs a score" in capsys.readouterr().err


def test_the_ear_is_imported_before_anything_runs(score):
    """Imported in the first take it would take its first click away."""
    code = """
import sys
from coach import cli
from coach.cli import practice
def practise(*_):
    print(*(name in sys.modules for name in ("coach.hear.follow.ear", "coach.hear.releases")))
practice.practise = practise
cli.main(sys.argv[1:])
"""
    words = ["tutti", str(score), "--part", "Horn", "--bars", "3-6", "--input", "player"]
    ran = subprocess.run(
        [sys.executable, "-c", code, *words, "--simple-sound"], capture_output=True, text=True
    )
    assert ran.stdout.split() == ["True", "True"], ran.stderr
