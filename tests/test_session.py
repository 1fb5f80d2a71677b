"""The loop, with ports, ear, screen and controls handed in: no device, no clock."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from coach.book.practice import PracticeBook
from coach.core.exercise import ClickStyle, Drill
from coach.core.gate import Gate
from coach.core.judge import judge_take
from coach.core.passage import Passage, in_a_row
from coach.core.rules import Rules
from coach.core.take import Attack, Chunk, Evidence, Gap
from coach.errors import CoachError, DeviceAwayError, DeviceError
from coach.session import Session, Setup
from tests.making import RATE, scale

BLOCK = 2400


class FakePort:
    """Frames without sound; `dies_at` a frame it raises DeviceError, `ends_at` it runs out."""

    def __init__(self, dies_at=None, ends_at=None, gaps=()):
        self.rate = RATE
        self._frame = 0
        self._dies_at, self._ends_at, self._gaps = dies_at, ends_at, gaps
        self.plans = []

    @property
    def ended(self):
        return self._ends_at is not None and self._frame >= self._ends_at

    def earliest_frame(self):
        return self._frame + 480

    def position(self):
        return self._frame

    def begin(self, plan):
        self.plans.append(plan)

    def end(self):
        pass

    def read(self):
        if self._dies_at is not None and self._frame >= self._dies_at:
            raise DeviceError("the sound device stopped answering")
        start, self._frame = self._frame, self._frame + BLOCK
        gaps = tuple(g for g in self._gaps if start <= g.frame < self._frame)
        return Chunk(start, BLOCK, gaps=gaps)


class FakeEar:
    """Hears the plan's notes, those in `faults` changed or left out."""

    clipped = False

    def __init__(self, plan, fault):
        self._left = []
        for due in plan.dues:
            attack = Attack(due.frame, float(due.pitch), -20.0, fine=True)
            changed = fault(attack, due.index)
            if changed is not None:
                self._left.append(changed)

    def feed(self, chunk):
        now = [a for a in self._left if a.frame <= chunk.end_frame]
        self._left = [a for a in self._left if a.frame > chunk.end_frame]
        return Evidence(tuple(now), chunk.gaps, chunk.end_frame)

    def finish(self):
        return Evidence()


class FakeScreen:
    def __init__(self):
        self.views = []

    def draw(self, view):
        self.views.append(view)


class FakeControls:
    """Gives commands when asked for the n-th time."""

    def __init__(self, at=None):
        self._at, self._asked = at or {}, 0

    def poll(self):
        self._asked += 1
        command = self._at.get(self._asked)
        if command == "ctrl-c":
            raise KeyboardInterrupt
        return [command] if command else []


def drill_of(**changes):
    passage = Passage(in_a_row(scale(), Fraction(1, 2)))
    base = Drill("invented", "Invented", "", (passage,), 60, 90, click=ClickStyle())
    return replace(base, **changes)


def keep(attack, index):
    return attack


def faulty(attack, index):
    """Every second note missing."""
    return attack if index % 2 else None


class Run:
    """One session with everything faked; `book` is a real one in memory."""

    def __init__(self, tmp_path, *, faults=(keep,), port=None, controls=None, drill=None, **setup):
        self.port = port or FakePort()
        self.screen = FakeScreen()
        self.events = []
        self.book = PracticeBook(tmp_path / "book.sqlite")
        self._faults = list(faults)
        self.session = Session(
            Setup(drill or drill_of(), Rules(), -7, **{"takes": 2, **setup}),
            self.port,
            self._ear,
            self.screen,
            controls or FakeControls(),
            self.book,
            self.events.append,
        )

    def _ear(self, plan):
        fault = self._faults.pop(0) if len(self._faults) > 1 else self._faults[0]
        return FakeEar(plan, fault)

    def named(self, name):
        return [e for e in self.events if e["event"] == name]


def test_the_tempo_rises_after_a_clean_take(tmp_path):
    run = Run(tmp_path)
    assert run.session.run() == "2 takes done"
    starts = run.named("take_start")
    assert [e["tempo_bpm"] for e in starts] == [60, 62.4]
    ends = run.named("take_end")
    assert ends[0]["passed"] is True
    assert ends[0]["next_tempo_bpm"] == 62.4
    assert ends[0]["accuracy"] == 1.0
    assert len(run.named("verdict")) == 16
    assert run.named("session_end")[0]["reason"] == "2 takes done"


def test_the_tempo_stays_after_a_faulty_take(tmp_path):
    run = Run(tmp_path, faults=(faulty, keep))
    run.session.run()
    ends = run.named("take_end")
    assert [e["passed"] for e in ends] == [False, True]
    assert ends[0]["next_tempo_bpm"] == 60
    assert ends[1]["next_tempo_bpm"] == 62.4


class GlimpsingEar(FakeEar):
    """Shows each note as soon as it hears it, and settles it a chunk later."""

    def __init__(self, plan, fault):
        super().__init__(plan, fault)
        self._later = Evidence()

    def feed(self, chunk):
        now, self._later = self._later, super().feed(chunk)
        first = next(iter(self._later.attacks), None)
        seen = None if first is None else replace(first, due=self._count(first))
        return replace(now, up_to_frame=chunk.frame, glimpsed=seen)

    def _count(self, attack):
        return round((attack.frame - self._first_frame) / self._step_frames)

    def finish(self):
        return self._later


def test_a_first_sight_is_logged_and_shown_before_its_verdict(tmp_path):
    run = Run(tmp_path, takes=1)

    def ear(plan):
        made = GlimpsingEar(plan, keep)
        made._first_frame = plan.dues[0].frame
        made._step_frames = plan.dues[1].frame - plan.dues[0].frame
        return made

    run.session._make_ear = ear
    run.session.run()
    order = [(e["event"], e["index"]) for e in run.events if e["event"] in ("glimpse", "verdict")]
    for index in range(8):
        assert order.index(("glimpse", index)) < order.index(("verdict", index))
    assert any(v.glimpsed and not v.verdicts for v in run.screen.views)


def test_events_have_the_fields_that_others_read(tmp_path):
    run = Run(tmp_path, faults=(faulty,), takes=1)
    run.session.run()
    start = run.named("take_start")[0]
    assert start["downbeat_frame"] == run.port.plans[0].downbeat_frame
    assert start["sample_rate"] == RATE
    assert start["expected"][1] == {
        "onset_s": 0.5, "duration_s": 0.5, "midi": 62, "slurred": False,
    }  # fmt: skip
    verdicts = run.named("verdict")
    assert [v["verdict"] for v in verdicts] == ["missed", "clean"] * 4
    assert verdicts[1]["attack_s"] == pytest.approx(0.5, abs=1e-4)
    assert verdicts[1]["decided_after_ms"] > 0
    assert verdicts[0]["decided_after_ms"] is None


def test_it_stops_at_the_goal(tmp_path):
    run = Run(tmp_path, takes=None, drill=drill_of(from_bpm=88, to_bpm=90))
    assert run.session.run() == "reached 90 clicks a minute"


def test_every_take_is_kept_and_judged_alike(tmp_path):
    run = Run(tmp_path, faults=(faulty, keep))
    run.session.run()
    kept = run.book.takes("invented")
    assert [t.number for t in kept] == [1, 2]
    again = judge_take(kept[0], Rules())
    assert again.accuracy == run.named("take_end")[0]["accuracy"]
    assert [v.kind for v in again.verdicts] == ["missed", "clean"] * 4


def test_a_dead_device_ends_the_session_and_keeps_what_was_done(tmp_path):
    run = Run(tmp_path, port=FakePort(dies_at=20 * RATE), takes=None)
    with pytest.raises(DeviceError):
        run.session.run()
    assert run.named("session_end")[0]["reason"] == "the sound device stopped answering."
    assert len(run.book.takes()) == len(run.named("take_end")) >= 1


def test_ctrl_c_ends_the_session_in_order(tmp_path):
    run = Run(tmp_path, controls=FakeControls({50: "ctrl-c"}))
    assert run.session.run() == "stopped by the player"
    assert run.events[-1]["event"] == "session_end"


def test_quit_in_mid_take_judges_nothing(tmp_path):
    run = Run(tmp_path, controls=FakeControls({60: "quit"}))
    run.session.run()
    assert run.named("take_end") == []
    assert run.book.takes() == []


def test_faster_and_slower_restart_at_the_next_step(tmp_path):
    run = Run(tmp_path, controls=FakeControls({5: "faster"}), takes=1)
    run.session.run()
    assert [e["tempo_bpm"] for e in run.named("take_start")] == [60, 62.4]


@pytest.mark.parametrize("stops", [{5: "go"}, {5: "halt"}, {5: "go", 9: "halt"}])
def test_pause_waits_for_go(tmp_path, stops):
    """By the key, by Ctrl-Z, and by Ctrl-Z in the pause."""
    run = Run(tmp_path, controls=FakeControls({**stops, 40: "go"}), takes=1)
    run.session.run()
    assert [v.phase for v in run.screen.views].count("paused") > 1
    assert len(run.named("take_end")) == 1


def test_lost_sound_is_counted_and_unsure(tmp_path):
    first = FakePort()
    run = Run(tmp_path, port=first, takes=1)
    run.session.run()
    due = run.port.plans[0].dues[3]
    gap = Gap(due.frame - 480, 960)

    def deaf(attack, index):
        return None if gap.frame <= attack.frame <= gap.end_frame else attack

    again = Run(tmp_path, port=FakePort(gaps=(gap,)), faults=(deaf,), takes=1)
    again.session.run()
    assert again.named("verdict")[3]["verdict"] == "unsure"
    assert again.named("take_end")[0]["lost_frames"] == 960
    assert again.named("take_end")[0]["accuracy"] == 1.0


def test_a_recording_that_runs_out_ends_the_session(tmp_path):
    run = Run(tmp_path, port=FakePort(ends_at=30 * RATE), takes=None)
    assert run.session.run() == "the recording ended"


def test_verdicts_changed_by_the_whole_take_are_told_again(tmp_path):
    """40 ms behind throughout: the first notes look late until the take knows its offset."""

    def behind(attack, index):
        return replace(attack, frame=attack.frame + 40 * RATE // 1000)

    run = Run(tmp_path, faults=(behind,), takes=1)
    run.session.run()
    revised = [v for v in run.named("verdict") if v.get("revised")]
    assert revised
    assert all(v["verdict"] == "clean" for v in revised)
    assert run.named("take_end")[0]["accuracy"] == 1.0


def test_a_full_disk_costs_one_take_not_the_session(tmp_path):
    run = Run(tmp_path, takes=2)
    appended = []

    class Full:
        def append(self, take, report, drill):
            appended.append(take)
            raise CoachError("this take could not be kept (disk full)")

    run.session._book = Full()
    assert run.session.run() == "2 takes done"
    assert len(appended) == 2
    assert any("could not be kept" in v.notice for v in run.screen.views)


def test_the_gate_of_the_drill_decides(tmp_path):
    run = Run(tmp_path, drill=drill_of(gate=Gate(passes=2)))
    run.session.run()
    assert [e["next_tempo_bpm"] for e in run.named("take_end")] == [60, 62.4]


def test_air_is_breathed_in_time_and_not_judged(tmp_path):
    """The clicks sound, nothing is kept, the metronome stays, and the played variant follows."""
    played = drill_of().variants[0]
    drill = drill_of(variants=(replace(played, way="air"), played), rest_beats=0)
    run = Run(tmp_path, drill=drill, takes=1)
    run.session.run()
    turns = [e["event"] for e in run.events if e["event"].split("_")[0] in ("turn", "take")]
    assert turns == ["turn_start", "turn_end", "take_start", "take_end"]
    assert [p.exercise.passage.way for p in run.port.plans] == ["air", "played"]
    assert [p.exercise.tempo_bpm for p in run.port.plans] == [60, 60]
    assert len(run.book.takes()) == 1


def test_a_drill_of_the_mouthpiece_alone_ends_after_its_turns(tmp_path):
    drill = drill_of(variants=(replace(drill_of().variants[0], way="mouthpiece"),))
    run = Run(tmp_path, drill=drill, takes=2)
    assert run.session.run() == "2 takes done"
    assert len(run.port.plans) == 2
    assert run.book.takes() == []


def test_a_slow_variant_does_not_move_the_metronome(tmp_path):
    passage = drill_of().variants[0]
    drill = drill_of(variants=(replace(passage, tempo_share=0.5), passage))
    run = Run(tmp_path, drill=drill, takes=3)
    run.session.run()
    assert [p.exercise.tempo_bpm for p in run.port.plans] == [30, 60, 31.2]


def test_a_session_can_begin_with_a_rest_and_a_later_take(tmp_path):
    run = Run(tmp_path, takes=1, first_take=4, rest_first_s=2.0, why="For the tongue.")
    run.session.run()
    assert run.named("take_start")[0]["take"] == 4
    resting = [v for v in run.screen.views if v.phase == "rest" and v.last is None]
    assert {v.advice for v in resting} == {"For the tongue."}
    assert max(v.rest_s for v in resting) > 1.5
    assert run.port.plans[0].start_frame >= 2 * RATE


class AwayPort(FakePort):
    """At a frame the device goes, for so many reads; `for_good`: then it is given up."""

    def __init__(self, at_frame, reads, *, for_good=False):
        super().__init__()
        self._at, self.left, self._for_good = at_frame, reads, for_good

    def read(self):
        if self._frame >= self._at and self.left:
            self.left -= 1
            if self._for_good and not self.left:
                raise DeviceError("the sound device stopped and did not come back", "Desk")
            raise DeviceAwayError("the sound device stopped", "Desk", "see to it")
        return super().read()


IN_TAKE_2 = 20 * RATE


def test_a_device_that_comes_back_costs_the_take_that_ran(tmp_path):
    run = Run(tmp_path, port=AwayPort(IN_TAKE_2, 30))
    assert run.session.run() == "2 takes done"
    told = [e for e in run.events if e["event"] != "verdict"]
    assert [e["event"] for e in told] == [
        "take_start", "take_end", "take_start", "take_lost", "device_lost", "device_back",
        "take_start", "take_end", "session_end",
    ]  # fmt: skip
    assert [e.get("take") for e in told][:8] == [1, 1, 2, 2, None, None, 2, 2]
    assert told[3]["reason"] == told[4]["what"] == "Desk: the sound device stopped"
    assert told[2]["tempo_bpm"] == told[6]["tempo_bpm"] == 62.4
    assert [t.number for t in run.book.takes()] == [1, 2]
    notices = [v.notice for v in run.screen.views]
    (lost,) = {n for n in notices if n.startswith("Desk: the sound device stopped; see that")}
    assert notices.index(lost) < notices.index("It is back: take 2 comes next.")


def test_after_a_return_the_player_has_time_to_get_ready(tmp_path):
    run = Run(tmp_path, port=AwayPort(12 * RATE, 3), drill=drill_of(rest_beats=0))
    run.session.run()
    lost, again = run.port.plans[1], run.port.plans[2]
    assert lost.start_frame < 12 * RATE
    assert again.start_frame >= 17 * RATE


def test_one_that_goes_again_at_once_pauses_nothing(tmp_path):
    """A loose contact: back for one read, then away again."""

    class Loose(AwayPort):
        def read(self):
            if self.left == 5 and not self.blinked:
                self.blinked = True
                return FakePort.read(self)
            return super().read()

    port = Loose(IN_TAKE_2, 10)
    port.blinked = False
    run = Run(tmp_path, port=port)
    assert run.session.run() == "2 takes done"
    assert len(run.named("device_back")) == 2
    assert len(run.named("take_lost")) == 1


def test_in_a_rest_no_take_is_lost(tmp_path):
    run = Run(tmp_path, port=AwayPort(RATE, 3), takes=1, rest_first_s=2.0)
    run.session.run()
    names = [e["event"] for e in run.events if e["event"] != "verdict"]
    assert names == ["device_lost", "device_back", "take_start", "take_end", "session_end"]


def test_a_device_that_stays_away_ends_the_session_and_keeps_what_was_done(tmp_path):
    run = Run(tmp_path, port=AwayPort(IN_TAKE_2, 30, for_good=True))
    with pytest.raises(DeviceError, match="did not come back"):
        run.session.run()
    assert run.named("device_back") == []
    assert run.events[-1]["reason"] == "Desk: the sound device stopped and did not come back."
    assert [t.number for t in run.book.takes()] == [1]


@pytest.mark.parametrize("how", ["quit", "ctrl-c"])
def test_the_player_need_not_wait_for_it(tmp_path, how):
    port = AwayPort(IN_TAKE_2, 10_000)

    class Impatient(FakeControls):
        def poll(self):
            if port.left > 9_990:
                return []
            if how == "quit":
                return ["again", "quit"]
            raise KeyboardInterrupt

    run = Run(tmp_path, port=port, controls=Impatient())
    with pytest.raises(DeviceError, match="Desk: the sound device stopped; see to it") as error:
        run.session.run()
    assert error.value.exit_status == 3
    assert run.events[-1]["event"] == "session_end"
    assert [t.number for t in run.book.takes()] == [1]


def lost_sound(first, seconds, apart=1):
    """Chunks that were lost, one of `apart`."""
    count = int(seconds * RATE / BLOCK)
    return tuple(Gap(first + k * apart * BLOCK, BLOCK) for k in range(count))


def test_a_take_in_which_the_computer_slept_is_given_up_and_comes_again(tmp_path):
    run = Run(tmp_path, port=FakePort(gaps=lost_sound(IN_TAKE_2, 3.0)))
    assert run.session.run() == "2 takes done"
    (lost,) = run.named("take_lost")
    assert lost["take"] == 2
    assert [e["take"] for e in run.named("take_start")] == [1, 2, 2]
    assert [e["passed"] for e in run.named("take_end")] == [True, True]
    # 3 s were lost, and none of them counts as rest: 8 beats at 62.4.
    assert run.port.plans[2].start_frame >= IN_TAKE_2 + (3 + 8 * 60 / 62.4) * RATE
    assert any(v.notice.startswith("The computer stood still") for v in run.screen.views)


def test_short_losses_give_up_no_take(tmp_path):
    gaps = lost_sound(18 * RATE, 2.5, apart=2)
    run = Run(tmp_path, port=FakePort(gaps=gaps), takes=2)
    run.session.run()
    assert run.named("take_lost") == []
    assert run.named("take_end")[1]["lost_frames"] > 2.2 * RATE
