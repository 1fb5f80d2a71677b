"""`coach tutti --recording`: an invented score, played by another synthesis at a tempo that comes
and goes, in place of made sound."""

from __future__ import annotations

import json
import shutil
import sys
from dataclasses import replace
from fractions import Fraction
from types import SimpleNamespace

import mido
import numpy as np
import pytest

from coach.book.practice import PracticeBook
from coach.cli import main, tapping
from coach.cli.record import book_path
from coach.cli.tape import LOUDEST_RMS_DB, RecordedStage, Tape, made_tape
from coach.core.exercise import Exercise
from coach.core.score.choose import Choice
from coach.core.timeline import frame_of, plan_take
from coach.core.tutti.bars import Positions
from coach.files.audio import read_audio, write_audio
from coach.files.positions import keep_positions, kept_positions, read_positions
from coach.files.scorefile import read_score
from coach.files.scoretutti import score_tutti
from coach.ports.keys import MIX_COMMANDS, Keys
from tests.bed.ensemble import RATE, Rubato, recorded, song
from tests.cli.test_tutti import PLAY, Base

pytest.importorskip("dtw")

LEAD_S = 1.5
TEMPO = Rubato(100, 48, 0.12, 13, 1, 40, 0.8)
VOICES = song(3, 12)
BEATS = tuple(Fraction(4 * k) for k in range(13))
TICKS = 480


def write_song(path):
    """The song as MIDI, at a tempo of 88; the player has its third voice."""
    made = mido.MidiFile(ticks_per_beat=TICKS)
    tempo = mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(88))
    made.tracks.append(mido.MidiTrack([tempo]))
    for voice in VOICES:
        events = [(note.start_beats, "note_on", note.pitch) for note in voice.notes]
        events += [(note.end_beats, "note_off", note.pitch) for note in voice.notes]
        track, at = mido.MidiTrack([mido.MetaMessage("track_name", name=voice.name)]), 0
        for beat, kind, pitch in sorted(events):
            tick = int(beat * TICKS)
            track.append(mido.Message(kind, note=pitch, velocity=80, time=tick - at))
            at = tick
        made.tracks.append(track)
    made.save(path)
    return path


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """A folder with the score and the recording of all of it."""
    folder = tmp_path_factory.mktemp("evening")
    write_song(folder / "evening.mid")
    write_audio(folder / "evening.wav", *recorded(VOICES, TEMPO, 3, LEAD_S))
    return folder


@pytest.fixture
def folder(made, tmp_path):
    """The same for one test alone."""
    for path in made.iterdir():
        shutil.copy(path, tmp_path)
    return tmp_path


def tutti(folder, *options: str, bars: str = "5-6", status: int = 0) -> None:
    words = [str(folder / "evening.mid"), "--part", "third", "--bars", bars, "--takes", "1"]
    recording = [] if "--recording" in options else ["--recording", str(folder / "evening.wav")]
    assert main(["tutti", *words, *recording, *options, *PLAY]) == status


def plan_of_the_take():
    with PracticeBook(book_path()) as book:
        (take,) = book.takes()
    return take.plan


def seconds_of(plan, beats) -> np.ndarray:
    frames = [frame_of(plan.exercise, plan.rate, plan.downbeat_frame, beat) for beat in beats]
    return (np.array(frames) - plan.downbeat_frame) / plan.rate


def true_seconds(beats, start: float = 0.0) -> np.ndarray:
    """From beat `start` of the piece to these beats of an excerpt that begins there."""
    at = TEMPO.seconds([start + float(beat) for beat in beats])
    return at - TEMPO.seconds([start])[0]


def test_the_plan_goes_as_the_recording_does_and_slower_at_its_pace(folder, capsys):
    events = folder / "events.jsonl"
    tutti(folder, "--from", "80", "--lead", "11", "--events", str(events), bars="12")
    told = capsys.readouterr().err
    assert "Finding the bars in evening.wav:   0%" in told
    assert "Found bars 1 to 12, all of them surely." in told
    kept = kept_positions(folder / "evening.wav")
    assert kept == folder / "evening.bars.json"
    found = read_positions(kept).between(Fraction(0), Fraction(48))
    plan = plan_of_the_take()
    assert plan.exercise.tempo_bpm == 80
    # The end of the last bar is a guess: nothing begins there.
    in_recording = seconds_of(plan, BEATS[:-1]) * 80 / round(found.usual_bpm, 1)
    in_recording += found.frames[0] / RATE - LEAD_S
    off = in_recording - TEMPO.seconds([float(beat) for beat in BEATS[:-1]])
    assert np.quantile(np.abs(off), 0.95) < 0.05
    start = json.loads(events.read_text("utf-8").splitlines()[0])
    notes = [note for note in VOICES[2].notes if note.start_beats >= 44]
    expected = seconds_of(plan, [note.start_beats for note in notes])
    assert [note["onset_s"] for note in start["expected"]] == pytest.approx(expected, abs=1e-4)


def test_the_second_time_the_bars_are_read(folder, capsys):
    moved = replace(true_positions(), frames=tuple(f + 9_000 for f in true_positions().frames))
    keep_positions(folder / "evening.wav", moved, "hand")
    kept = kept_positions(folder / "evening.wav")
    tutti(folder)
    assert "Finding" not in capsys.readouterr().err
    assert read_positions(kept) == moved
    tutti(folder, "--new-bars")
    assert "Found bars 1 to 12" in capsys.readouterr().err
    found = read_positions(kept)
    assert abs(found.frames[4] - true_positions().frames[4]) < 0.1 * RATE


def true_positions() -> Positions:
    frames = np.rint((TEMPO.seconds([float(beat) for beat in BEATS]) + LEAD_S) * RATE).astype(int)
    return Positions(RATE, BEATS, tuple(frames.tolist()))


def tape_of(folder, bars: str = "5-6") -> tuple[Tape, object, object, object]:
    """(tape, drill, ensemble, options) with the true bars of the recording."""
    keep_positions(folder / "evening.wav", true_positions(), "hand")
    args = SimpleNamespace(
        recording=str(folder / "evening.wav"),
        tap=None,
        new_bars=False,
        lead=1,
        from_bpm=None,
        to_bpm=None,
    )
    score, choice = read_score(folder / "evening.mid"), Choice("third", bars)
    tape = made_tape(args, score, choice)
    drill, _, ensemble = score_tutti(folder / "evening.mid", choice, 1, score=score)
    return (tape, *tape.applied(drill, ensemble, args), args)


def test_the_goal_is_the_tempo_of_the_recording_and_the_start_slower(folder):
    tape, drill, ensemble, _ = tape_of(folder)
    seconds = true_seconds([Fraction(12)], 12.0)[0]
    assert drill.to_bpm == pytest.approx(60 * 12 / seconds, abs=0.1)
    assert drill.from_bpm == round(0.6 * drill.to_bpm)
    assert ensemble.warp == drill.warp
    at_goal = plan_take(Exercise(drill.variants[0], drill.to_bpm, warp=drill.warp), RATE, 0)
    for beat, frame in zip(tape.positions.beats, tape.positions.frames, strict=True):
        assert frame_of(at_goal.exercise, RATE, 0, beat) == frame - tape.positions.frames[0]


def clicks_for(positions: Positions, length: int) -> np.ndarray:
    """A sharp attack at each place, dying away."""
    sound = np.zeros(length, np.float32)
    t = np.arange(positions.rate // 2) / positions.rate
    note = (np.exp(-8 * t) * np.cos(2 * np.pi * 330 * t)).astype(np.float32)
    for frame in positions.frames:
        part = sound[frame : frame + len(note)]
        part += 0.5 * note[: len(part)]
    return sound


def sounding(port, base, plan) -> np.ndarray:
    port.begin(plan)
    while not port.ready:
        port.read()
    return base.track.render(plan.start_frame, plan.end_frame - plan.start_frame)


def test_attacks_sound_at_the_frames_of_the_plan(folder):
    """Bars 4 to 6 slower through the port of the sound card: each bar's attack is found where the
    plan has its bar, to the 2 ms by which the laying may move one."""
    bars = true_positions()
    write_audio(folder / "evening.wav", clicks_for(bars, bars.frames[-1] + RATE), RATE)
    tape, drill, ensemble, _ = tape_of(folder)
    stage, base = RecordedStage(tape, ensemble), Base()
    assert tape.positions.rate == base.rate
    plan = plan_take(Exercise(drill.variants[0], 60.0, warp=drill.warp), base.rate, 200_000)
    plan = replace(plan, clicks=())
    port = stage.around(base)
    wave = sounding(port, base, plan)
    port.end()
    for beat in tape.positions.beats[:-1]:
        at = frame_of(plan.exercise, plan.rate, plan.downbeat_frame, beat) - plan.start_frame
        near = np.abs(wave[at - 9_600 : at + 9_600])
        first = int(np.argmax(near > 0.5 * near.max()))
        assert first - 9_600 == pytest.approx(0, abs=0.002 * base.rate)


def test_the_keys_of_the_mixer_move_the_one_voice(folder):
    tape, drill, ensemble, _ = tape_of(folder)
    stage, base = RecordedStage(tape, ensemble), Base()
    port = stage.around(base)
    plan = plan_take(Exercise(drill.variants[0], 90.0, warp=drill.warp), base.rate, 200_000)
    plan = replace(plan, clicks=())
    loud = sounding(port, base, plan)
    level = float(np.sqrt(np.mean(loud**2)))
    assert -26 < 20 * np.log10(level) < LOUDEST_RMS_DB
    for command in MIX_COMMANDS:
        stage.command(command)
    assert len(stage.mix.levels_db) == 1
    assert stage.mix.chosen == 0
    # Muted on the way, and everybody again.
    stage.command("mute")
    stage.command("softer")
    while not port.ready:
        port.read()
    soft = base.track.render(plan.start_frame, len(loud))
    assert soft.ndim == 1
    assert np.sqrt(np.mean(soft**2)) == pytest.approx(level * 10 ** (-3 / 20), rel=0.02)
    stage.command("mute")
    while not port.ready:
        port.read()
    assert not base.track.render(plan.start_frame, len(loud)).any()
    port.end()


@pytest.mark.parametrize(
    ("options", "sentence"),
    [
        (["--recording", "none.wav"], "none.wav: there is no such file"),
        (["--recording", __file__], "this is not a sound file"),
        (["--own", "0"], "--own is for made sound"),
        (["--sound-font", "x.sf2"], "--sound-font is for made sound"),
        (["--ensemble-midi"], "--ensemble-midi is for made sound"),
        (["--tap", "--new-bars"], "bars are tapped or found"),
        (["--tap", "1:x"], "--tap 1:x is no time"),
        (["--tap"], "nobody can tap"),
        (["--tempo", "5"], "can't be played at 5; choose a tempo between 10 and"),
        (["--tempo", "400"], "can't be played at 400"),
    ],
)
def test_what_can_not_be(folder, capsys, options, sentence):
    keep_positions(folder / "evening.wav", true_positions(), "hand")
    tutti(folder, *options, status=2)
    told = capsys.readouterr().err
    assert sentence in told
    assert len(told.splitlines()) == 1


def test_options_of_a_recording_need_one(folder, capsys):
    words = [str(folder / "evening.mid"), "--part", "third", "--new-bars", *PLAY]
    assert main(["tutti", *words]) == 2
    assert "--new-bars is for a recording" in capsys.readouterr().err


def test_bars_outside_the_recording_are_named(folder, capsys):
    whole = true_positions()
    part = Positions(RATE, whole.beats[2:6], whole.frames[2:6])
    keep_positions(folder / "evening.wav", part, "hand")
    tutti(folder, bars="7-8", status=2)
    told = capsys.readouterr().err
    assert "these bars are not in the recording; it has bars 3 to 5" in told
    tutti(folder, bars="5")


@pytest.mark.parametrize("seconds", [0, 6])
def test_an_empty_file_and_silence_are_refused(folder, capsys, seconds):
    write_audio(folder / "evening.wav", np.zeros(seconds * RATE, np.float32), RATE)
    tutti(folder, status=2)
    told = capsys.readouterr().err
    assert ("there is no sound" if seconds == 0 else "nothing in common") in told
    assert kept_positions(folder / "evening.wav") is None


def test_another_piece_is_refused(folder, capsys):
    voices = tuple(
        replace(voice, notes=tuple(replace(n, pitch=n.pitch + 6) for n in voice.notes))
        for voice in song(4, 10)
    )
    write_audio(folder / "evening.wav", *recorded(voices, TEMPO, 3, LEAD_S))
    tutti(folder, status=2)
    told = capsys.readouterr().err.splitlines()[-1]
    assert "nothing in common" in told
    assert "--tap" in told
    assert kept_positions(folder / "evening.wav") is None


def test_without_the_library_there_is_still_tapping(folder, capsys, monkeypatch):
    monkeypatch.setitem(sys.modules, "dtw", None)
    tutti(folder, status=2)
    told = capsys.readouterr().err
    assert "pip install dtw-python, or tap the beats yourself with --tap" in told


class Sounding:
    """Stands for the sound card while somebody taps: 10 ms go by at each look."""

    rate = RATE

    def __init__(self) -> None:
        self.frame, self.tracks = 0, []

    def earliest_frame(self):
        return self.frame + 4_000

    def play(self, track):
        self.tracks.append(track)

    def read(self):
        self.frame += self.rate // 100

    def frame_at(self, at_s):
        return self.frame

    def open(self):
        pass

    close = open


class Tapping:
    """A player who taps at these seconds of the sound, and leaves the keys alone otherwise."""

    def __init__(self, port, seconds, last="go") -> None:
        self._port, self._start = port, port.earliest_frame()
        self._left, self._last = list(seconds), last

    def poll(self):
        at_s = (self._port.frame - self._start) / self._port.rate
        if not self._left or at_s < self._left[0]:
            return []
        self._left.pop(0)
        return ["go" if self._left else self._last]


def tap_times(first: float, last: float) -> np.ndarray:
    """Every beat, 15 ms astray, but for one that is left out."""
    at = TEMPO.seconds(np.arange(first, last)) + LEAD_S
    at += np.random.default_rng(2).normal(0, 0.015, len(at))
    return np.delete(at, 7)


def test_tapped_bars_are_kept_and_played_to(folder, capsys, monkeypatch):
    port = Sounding()
    times = tap_times(4, 24) - 2.0
    monkeypatch.setattr(tapping, "_opened", lambda args, stack: (port, Tapping(port, times)))
    tutti(folder, "--tap", "0:02", "--lead", "1", bars="3-6")
    told = capsys.readouterr().err
    assert "Tap every beat from the first of bar 2 on" in told
    assert "Tapped bars 2 to 6 at 95 a minute" in told
    kept = read_positions(kept_positions(folder / "evening.wav"))
    assert kept.beats == tuple(map(Fraction, range(4, 24)))
    off = np.array(kept.frames) / RATE - LEAD_S - TEMPO.seconds(np.arange(4, 24))
    assert np.median(np.abs(off)) < 0.02
    assert np.max(np.abs(off[5:-4])) < 0.04
    bars = [Fraction(4 * k) for k in range(5)]
    plan = plan_of_the_take()
    played = seconds_of(plan, bars)
    places = np.array([float(kept.frame_at(bar + 4) - kept.frames[0]) for bar in bars])
    assert played / played[-1] == pytest.approx(places / places[-1], abs=1e-5)
    # What sounded: the file from its second 2 on, at its own speed.
    sounded = port.tracks[0].render(4_000, RATE)
    heard = read_audio(folder / "evening.wav")[0][2 * RATE : 3 * RATE]
    assert np.corrcoef(sounded, heard)[0, 1] == pytest.approx(1, abs=1e-6)
    assert not port.tracks[-1].render(0, 10 * RATE).any()


def test_taps_go_into_what_was_found(folder, monkeypatch):
    keep_positions(folder / "evening.wav", true_positions(), "sound")
    port = Sounding()
    times = tap_times(8, 16)
    monkeypatch.setattr(tapping, "_opened", lambda args, stack: (port, Tapping(port, times)))
    tutti(folder, "--tap", "--lead", "0", bars="3-4")
    kept = read_positions(kept_positions(folder / "evening.wav"))
    assert kept.beats == tuple(map(Fraction, (0, 4, *range(8, 16), *range(16, 49, 4))))


def test_too_few_taps_keep_nothing(folder, capsys, monkeypatch):
    port = Sounding()
    taps = Tapping(port, tap_times(4, 14), "quit")
    monkeypatch.setattr(tapping, "_opened", lambda args, stack: (port, taps))
    tutti(folder, "--tap", "--lead", "1", bars="3-6", status=2)
    assert "of 20; tap on to the last beat" in capsys.readouterr().err
    assert kept_positions(folder / "evening.wav") is None


def test_silence_after_some_taps_is_the_end():
    port = Sounding()
    taps = tapping.heard_taps(
        port, Tapping(port, [1, 2, 3, 4]), np.zeros(60 * RATE, np.float32), 99, print, float
    )
    assert [round(tap / RATE) for tap in taps] == [1, 2, 3, 4]
    assert port.frame < 20 * RATE


def test_every_key_taps_but_escape():
    keys = Keys(tapping.any_key())
    assert {keys._commands[key] for key in (" ", "q", "m", "KEY_ENTER", "-")} == {"go"}
    assert keys._commands["KEY_ESCAPE"] == "quit"
