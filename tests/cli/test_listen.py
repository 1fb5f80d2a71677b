"""`coach listen`: what is heard lies where it was played, slower; and what is said of it."""

from __future__ import annotations

import shutil
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from coach.book.practice import PracticeBook
from coach.cli import main, replaying
from coach.cli.soundkeeping import own_sounds
from coach.core.exercise import Drill
from coach.core.judge import judge_take
from coach.core.playback import LEAD_S
from coach.core.rules import Rules
from coach.core.take import Chunk, Take
from coach.errors import DeviceError
from coach.files.audio import read_audio
from coach.files.configs import own_folder
from coach.ports.click import SILENCE, ClickTrack, click_sound
from coach.ports.player.port import PlayerPort
from coach.ports.player.skill import STEADY, Fault
from coach.ports.recorded import RecordedPort
from tests.making import RATE, attacks_of, plan_of, scale

STEP = 1 / 2**15
PLAN = plan_of(scale(55, 12), tempo_bpm=100.0, downbeat_frame=2 * RATE + 33)
DRILL = Drill("short", "A short scale", "", (PLAN.exercise.passage,))
# How far a marked start may lie from where it was put: how far grains may be moved, and a grain of
# the measuring.
TOLERANCE_S = 0.004
# Five milliseconds after its start the softest note is so loud, against the loudest sample.
UP = 0.03
# Takes the tongue off late: it is nearly silent between notes.
APART = replace(STEADY, tongue_ms=120.0)


def playing(seed, late_ms, tempo_bpm=100.0, skill=STEADY):
    """A take of the simulated player with its sound: note 4 late, the fifth a tone too low."""
    port = RecordedPort(PlayerPort(RATE, skill, seed, realtime=False, room=False))
    plan = plan_of(scale(55, 12), tempo_bpm=tempo_bpm, downbeat_frame=PLAN.downbeat_frame)
    base = port._base
    base._scripts = {1: {3: Fault(late_ms=late_ms), 4: Fault(semitones=-2)}}
    port.begin(plan)
    while port.read().end_frame < plan.end_frame + RATE // 4:
        pass
    port.end()
    due = {note.due: note for note in base.played}
    attacks = tuple(
        replace(attack, frame=due[k].frame, pitch=due[k].pitch, level_db=due[k].level_db)
        for k, attack in enumerate(attacks_of(plan))
    )
    return Take(seed, plan, attacks, (), False), port.taken()


def keep(book, take, sound=None):
    uid = book.append(take, judge_take(take, Rules()), DRILL)
    if sound is not None:
        own_sounds().keep(uid, sound)


@pytest.fixture(scope="module")
def played_home(tmp_path_factory):
    """Takes 1 and 2 of the player, the first the better; take 3 of the same notes by MIDI."""
    home = tmp_path_factory.mktemp("played")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("COACH_HOME", str(home))
        with PracticeBook(home / "practice.sqlite") as book:
            keep(book, *playing(1, 20.0, skill=APART))
            keep(book, *playing(2, 45.0, 90.0))
            keep(book, playing(3, 45.0)[0])
    return home


@pytest.fixture
def played(played_home):
    """Each test has the book and the sounds for itself."""
    shutil.copytree(played_home, own_folder(), dirs_exist_ok=True)


def kept(number):
    with PracticeBook(own_folder() / "practice.sqlite") as book:
        return book.kept(number)


def heard(tmp_path, *options):
    """What `coach listen` writes, and its rate."""
    path = tmp_path / "out.flac"
    assert main(["listen", *map(str, options), "--out", str(path)]) == 0
    return read_audio(path)


def start_near(samples, frame):
    """Where the sound comes up out of the quietest place around a frame: by its level alone."""
    low = max(0, frame - RATE // 25)
    part = samples[low : frame + RATE // 10].astype(float)
    level = np.sqrt(np.convolve(part**2, np.ones(96) / 96, "same")) / np.max(np.abs(samples))
    quietest = int(np.argmin(level[: frame - low + RATE // 100]))
    up = np.flatnonzero(level[quietest:] > UP)
    assert len(up), "no note starts here"
    return low + quietest + int(up[0])


@pytest.mark.parametrize("speed", [0.5, 0.25, 0.8])
def test_attacks_lie_at_their_slowed_times(played, tmp_path, speed):
    one = kept(1)
    plan = one.take.plan
    whole = own_sounds().read(one.uid, plan.start_frame).samples
    samples, rate = heard(tmp_path, 1, "--speed", speed, "--no-click", "--from-note", 1)
    assert rate == RATE
    ratio = 1 / Fraction(str(speed))
    begin = round((plan.dues[0].frame - plan.start_frame - round(LEAD_S * RATE)) * ratio)
    for attack in one.take.attacks:
        at = attack.frame - plan.start_frame
        own_delay = start_near(whole, at) - at
        found = start_near(samples, round(at * ratio) - begin) + begin - at * ratio
        # The start of a note is left as it was, what comes later is slowed.
        assert own_delay - TOLERANCE_S * RATE < found < ratio * own_delay + TOLERANCE_S * RATE


def test_a_detector_that_knows_nothing_finds_the_same_notes(played, tmp_path):
    """aubio, through the blind ear, in the slowed take."""
    from coach.hear.blind import BlindEar

    take = kept(2).take
    samples, _ = heard(tmp_path, 2, "--no-click", "--from-note", 1)
    first = take.plan.dues[0].frame - round(LEAD_S * RATE)
    ear = BlindEar(RATE)
    found = [*ear.feed(Chunk(0, len(samples), samples)).attacks, *ear.finish().attacks]
    near = {}
    for seen in found:
        place = min(range(12), key=lambda k: abs(seen.frame - 2 * (take.attacks[k].frame - first)))
        off = abs(seen.frame - 2 * (take.attacks[place].frame - first))
        assert off < 0.025 * RATE  # nothing is struck twice
        if seen.pitch:
            near[place] = seen.pitch
    assert len(near) == 12
    assert all(abs(take.attacks[place].pitch - pitch) < 0.2 for place, pitch in near.items())


def test_the_pitch_is_the_same(played, tmp_path):
    """By aubio's yinfft, in the middle of notes."""
    import aubio

    one = kept(1)
    whole = own_sounds().read(one.uid, 0).samples
    samples, _ = heard(tmp_path, 1, "--no-click", "--from-note", 1)
    begin = round((one.take.plan.dues[0].frame - one.take.plan.start_frame) - LEAD_S * RATE)

    def pitch(sound, at, length):
        tracker = aubio.pitch("yinfft", 4096, 256, RATE)
        part = np.ascontiguousarray(sound[at : at + length], np.float32)
        hops = [tracker(part[k : k + 256])[0] for k in range(0, length - 255, 256)]
        return float(np.median(hops[16:]))

    for attack in one.take.attacks:
        at = attack.frame - one.take.plan.start_frame + RATE // 20
        before = pitch(whole, at, RATE // 6)
        slowed = pitch(samples, 2 * (at - begin), RATE // 3)
        assert abs(1200 * np.log2(slowed / before)) < 5


@pytest.mark.parametrize("options", [["--from-note", "3"], ["--from-bar", "2"]])
def test_the_click_is_exact_to_the_sample(played, tmp_path, options):
    speed = "0.3"
    bare, _ = heard(tmp_path, 1, "--speed", speed, "--no-click", *options)
    full, _ = heard(tmp_path, 1, "--speed", speed, *options)
    clicks = full - bare
    take = kept(1).take
    plan, ratio = take.plan, 1 / Fraction(speed)
    due = plan.dues[2].frame if options[0] == "--from-note" else plan.dues[8].frame
    began = round((due - round(LEAD_S * RATE) - plan.start_frame) * ratio)
    gain = 10 ** (plan.exercise.click.level_db / 20)
    expected = np.zeros(len(full) + RATE)
    for click in plan.clicks:
        at = round((click.frame - plan.start_frame) * ratio) - began
        wave = gain * click_sound(plan.exercise.click.sound, click.kind, RATE)
        if at >= 0:
            expected[at : at + len(wave)] += wave
    assert np.max(np.abs(expected)) > 0.2
    assert np.max(np.abs(clicks - expected[: len(full)])) <= 1.5 * STEP


def test_it_begins_with_the_count_in_or_with_the_note(played, tmp_path):
    plan = kept(1).take.plan
    samples, _ = heard(tmp_path, 1, "--speed", 1)
    assert abs(samples[0]) > 10 * STEP  # the first click begins at once
    assert abs(len(samples) - (plan.end_frame + RATE // 4 - plan.start_frame)) < 1000
    samples, _ = heard(tmp_path, 1, "--from-note", 7, "--no-click")
    attack = kept(1).take.attacks[6].frame
    found = start_near(samples, round(2 * LEAD_S * RATE))
    assert abs(found - 2 * LEAD_S * RATE) < 0.02 * RATE
    assert abs(len(samples) - 2 * (plan.end_frame + RATE // 4 - attack + LEAD_S * RATE)) < 2000


def test_last_best_and_numbers(played, tmp_path, capsys):
    for take, number in (("last", 3), ("best", 1), ("2", 2)):
        heard(tmp_path, take, "--speed", 1)
        assert f"invented, take {number} at" in capsys.readouterr().out


def test_the_best_of_the_others(played, tmp_path, capsys):
    heard(tmp_path, 1, "--against", "best", "--speed", 1)
    assert "invented, take 3 at" in capsys.readouterr().out


def test_the_click_in_the_microphone_is_not_heard_slowed(played, tmp_path):
    """A loudspeaker 20 dB under the horn's peak."""
    one = kept(1)
    plan = one.take.plan
    sound = own_sounds().read(one.uid, plan.start_frame)
    bare, _ = heard(tmp_path, 1, "--no-click", "--speed", 1)
    loud = np.max(np.abs(sound.samples))
    clicks = ClickTrack(plan).render(plan.start_frame, len(sound.samples))
    clicks *= 0.1 * loud / np.max(clicks)
    own_sounds().keep(one.uid, replace(sound, samples=sound.samples + clicks))
    samples, _ = heard(tmp_path, 1, "--no-click", "--speed", 1)
    left = np.sqrt(np.mean((samples - bare) ** 2))
    meant = np.sqrt(np.mean(clicks**2)) * np.max(np.abs(bare)) / loud
    assert left < meant / 3
    piece = replaying.piece_of(kept(1), own_sounds())
    count_in = plan.downbeat_frame - plan.start_frame - round(0.06 * RATE)
    assert not np.any(piece.sound.samples[:count_in])


def test_two_takes_against_one_another(played, tmp_path, capsys):
    one, _ = heard(tmp_path, 2, "--speed", 1)
    best, _ = heard(tmp_path, 1, "--speed", 1)
    capsys.readouterr()
    both, _ = heard(tmp_path, 2, "--against", "best", "--speed", 1)
    assert len(both) == len(best) + RATE + len(one)
    assert not np.any(both[len(best) : len(best) + RATE])
    told = [line.split() for line in capsys.readouterr().out.splitlines()]
    assert told[3] == ["note", "take", "1", "take", "2"]
    notes = {line[0]: line[2:] for line in told[4:]}
    assert len(notes) == 12
    assert notes["4"][:2] + notes["4"][3:] == ["┃", "●", "+20", "▶", "late", "+45"]
    assert notes["5"][1] == "wrong"
    with PracticeBook(own_folder() / "practice.sqlite") as book:
        plan = plan_of(scale(57, 12))
        keep(book, Take(4, plan, tuple(attacks_of(plan)), (), False))
    assert main(["listen", "4", "--against", "1", "--out", str(tmp_path / "x.wav")]) == 2
    assert "take 1 is of other notes than take 4" in capsys.readouterr().err


@pytest.mark.parametrize("how", ["midi", "gone", "spoilt"])
def test_a_take_without_sound_is_sounded_from_what_was_heard(played, tmp_path, capsys, how):
    number = 3 if how == "midi" else 1
    take, path = kept(number).take, own_sounds().folder / f"{kept(number).uid}.flac"
    if how == "gone":
        path.unlink()
    elif how == "spoilt":
        path.write_bytes(b"no sound")
    samples, _ = heard(tmp_path, number, "--no-click", "--from-note", 1)
    said = capsys.readouterr().err
    assert "are sounded as they were heard." in said
    assert ("not a sound file" in said) == (how == "spoilt")
    first = take.plan.dues[0].frame - round(LEAD_S * RATE)
    for attack in take.attacks:
        at = 2 * (attack.frame - first)
        # So long a low tone takes to come up.
        assert -0.002 * RATE < start_near(samples, at) - at < 0.02 * RATE


def test_what_there_is(played, capsys):
    assert main(["listen", "--list"]) == 0
    lines = [line.split() for line in capsys.readouterr().out.splitlines()]
    assert [(line[0], *line[2:5]) for line in lines] == [
        ("1", "short", "100", "91"),
        ("2", "short", "90", "83"),
    ]
    own_sounds().drop(own_sounds().sizes())
    assert main(["listen", "--list"]) == 0
    assert "No take has its sound" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["first"], "first is no take; use last, best or a number."),
        (["9"], "there is no take 9; coach listen --list"),
        (["--player", "Nobody"], 'there is no player "Nobody"'),
        (["9" * 30], "there is no take 999"),
        (["--drill", "long"], '--drill: there is no take of "long"'),
        (["1", "--drill", "short"], "--drill goes with last and best"),
        (["--speed", "2"], "--speed 2 is out of range; use 0.25 to 1."),
        (["--speed", "nan"], "--speed nan is out of range"),
        (["--from-note", "13"], "--from-note 13 is out of range; use 1 to 12."),
        (["--from-bar", "3"], "--from-bar 3 is out of range; use 1 to 2."),
        (["--from-bar", "1", "--from-note", "1"], "give one of them"),
        (["1", "--against", "1"], "take 1 can't be held against itself"),
        (["--against", "last"], "--against last is no other take"),
        (["--out", "take.xyz"], "it can't be written"),
        (["--out", "no/such/folder/a.wav"], "it can't be written"),
    ],
)
def test_what_cannot_be(played, capsys, options, said):
    assert main(["listen", *options]) == 2
    assert said in capsys.readouterr().err


def test_before_anything_was_played(capsys):
    for options in ([], ["--list"], ["best"]):
        assert main(["listen", *options]) == 2
        told = capsys.readouterr().err
        assert told == "coach: nothing has been played yet; begin with: coach warmup.\n"


class Speaker:
    """A port that only sounds: what went out is in `out`."""

    rate = RATE

    def __init__(self):
        self.out, self._track, self._frame = [], SILENCE, 0

    def open(self):
        return self

    def close(self):
        pass

    def earliest_frame(self):
        return self._frame + 1_000

    def play(self, track):
        self._track = track

    def read(self):
        self.out.append(self._track.render(self._frame, 2_048))
        self._frame += 2_048
        return Chunk(self._frame - 2_048, 2_048, self.out[-1])

    def sounded(self):
        return np.concatenate(self.out)


class Pictures:
    def __init__(self):
        self.views = []

    def draw(self, view):
        self.views.append(view)


class Script:
    """Commands at the n-th look at the keys."""

    def __init__(self, commands):
        self._commands, self._looks = commands, 0

    def poll(self):
        self._looks += 1
        return [self._commands[self._looks]] if self._looks in self._commands else []


def test_a_card_with_another_rate(played):
    piece = replaying.piece_of(kept(1), own_sounds())
    at_48, at_44 = (replaying.wave_of(piece, 0.5, rate) for rate in (RATE, 44_100))
    assert len(at_44) == round(len(at_48) * 44_100 / RATE)
    frames = np.arange(len(at_44)) * RATE / 44_100
    again = np.interp(frames, np.arange(len(at_48)), at_48)
    assert np.std(again - at_44) < 0.05 * np.std(at_44)


def replayed(commands, speed=0.5, clicks=False):
    piece = replaying.piece_of(kept(1), own_sounds())
    begin = piece.kept.take.plan.dues[0].frame - 2_400
    port, screen = Speaker(), Pictures()
    wish = replaying.Wish(piece, begin, clicks)
    replaying.Replaying(port, screen, Script(commands), [wish], speed).run()
    return piece, port.sounded(), screen.views


def test_the_verdicts_appear_as_the_notes_sound(played):
    piece, sounded, views = replayed({})
    dues = piece.kept.take.plan.dues
    assert abs(len(sounded) - 2 * (len(piece.sound.samples) - dues[0].frame)) < RATE
    told = [len(view.verdicts) for view in views]
    assert told == sorted(told)
    assert {0, 1, 12} <= {*told, 0}
    assert all(view.now == (len(view.verdicts) - 1 if view.verdicts else None) for view in views)
    assert {view.phase for view in views} <= {"playing", "count-in"}
    assert views[-1].verdicts == piece.report.verdicts
    assert {view.speed for view in views} == {0.5}


@pytest.mark.parametrize("stops", [{40: "go"}, {40: "halt"}, {40: "go", 50: "halt"}])
def test_stop_and_go_on(played, stops):
    """By the key, by Ctrl-Z, and by Ctrl-Z while it is stopped."""
    _, whole, _ = replayed({})
    _, parted, views = replayed({**stops, 60: "go"})
    assert any("Stopped here" in view.notice for view in views)
    quiet = parted[41 * 2048 : 60 * 2048]
    assert not np.any(quiet)
    # The same sound in two parts: but for the fade where it goes on nothing is lost.
    before, after = parted[: 40 * 2048], parted[60 * 2048 :]
    np.testing.assert_array_equal(before, whole[: 40 * 2048])
    on = after[1_000 + 240 :]
    np.testing.assert_allclose(on[:40_000], whole[40 * 2048 + 240 :][:40_000], atol=1e-6)


def test_slower_faster_again_and_quit(played):
    _, sounded, views = replayed({5: "slower", 6: "slower", 7: "faster", 20: "faster", 30: "quit"})
    speeds = [view.speed for view in views]
    assert {0.25, 0.5, 0.75} >= set(speeds)
    assert speeds[-1] == 0.75
    assert len(sounded) == 30 * 2048
    _, sounded, views = replayed({60: "again", 120: "quit"})
    np.testing.assert_array_equal(
        sounded[1_000 : 50 * 2048], sounded[60 * 2048 + 1_000 :][: 50 * 2048 - 1_000]
    )
    assert replaying.stepped(0.6, 1) == 0.75
    assert replaying.stepped(0.6, -1) == 0.5
    assert replaying.stepped(1.0, 1) == 1.0
    assert replaying.stepped(0.25, -1) == 0.25


def test_the_command_on_a_sound_card(played, capsys, monkeypatch):
    speakers = []

    def opened(settings, source, sink, *, listens):
        assert not listens
        speakers.append(Speaker())
        return speakers[-1]

    monkeypatch.setattr("coach.ports.base.open_sound", opened)
    assert main(["listen", "2", "--plain", "--speed", "0.75"]) == 0
    assert np.max(np.abs(speakers[0].sounded())) > 0.2
    assert capsys.readouterr().out.splitlines() == [
        "invented, take 2 at 90, played back at three quarters of the speed.",
        "  note 4 (G4): late by 45 ms",
        "  note 5 (A4): wrong, heard G4",
        "invented, take 2 at 90: 10 clean, 1 late, 1 wrong",
    ]


def test_a_device_that_fails(played, capsys, monkeypatch):
    def refused(*arguments, **more):
        raise DeviceError("there is no such output", "sound")

    monkeypatch.setattr("coach.ports.base.open_sound", refused)
    assert main(["listen"]) == 3
    assert "there is no such output" in capsys.readouterr().err


def test_ctrl_c_ends_it_in_order(played, capsys, monkeypatch):
    class Interrupted(Speaker):
        closed = False

        def read(self):
            if len(self.out) > 20:
                raise KeyboardInterrupt
            return super().read()

        def close(self):
            Interrupted.closed = True

    monkeypatch.setattr("coach.ports.base.open_sound", lambda *a, **k: Interrupted())
    assert main(["listen", "1", "--plain"]) == 0
    assert Interrupted.closed
    assert "invented, take 1 at 100: " in capsys.readouterr().out
