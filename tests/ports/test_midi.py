"""MIDI in and out without a device: times, notes, the clock messages."""

from __future__ import annotations

import itertools
import math
import random
import threading

import pytest

from coach.core.take import Chunk, Gap, NoteEvent
from coach.errors import CoachError, DeviceAwayError, DeviceError
from coach.ports import away, devices, leaving, midi, midilib
from coach.ports.midi import (
    DriverTimes,
    MidiInput,
    MidiNotes,
    MidiPort,
    choose_midi,
    note_event,
)
from coach.ports.midi_out import MidiOutPort, Sender, click_notes, clock_messages
from tests.making import plan_of

RATE = 48_000


def test_driver_time_is_trusted_while_it_agrees_with_the_stamps():
    rng = random.Random(3)
    times, true_s, last_s = DriverTimes(), 5.0, 5.0
    errors = []
    for _ in range(400):
        true_s += rng.choice([0.06, 0.12, 0.5])
        stamp_s = true_s + 0.001 + rng.random() * 0.012
        found = times.step(true_s - last_s, stamp_s)
        last_s = true_s
        errors.append(found - true_s)
    assert max(errors[50:]) - min(errors[50:]) < 0.001
    assert max(errors[50:]) < 0.002


@pytest.mark.parametrize("delta_s", [math.nan, math.inf, -1e300])
def test_one_delta_that_is_no_time_spoils_none_of_the_next(delta_s):
    times = DriverTimes()
    found = [times.step(d, 3.0 + 0.25 * k) for k, d in enumerate([0.0, delta_s, 0.25, 0.25])]
    assert found == pytest.approx([3.0, 3.25, 3.5, 3.75], abs=1e-6)


@pytest.mark.parametrize("delta_s", [0.0, 9.0, -1.0])
def test_with_nonsense_for_driver_time_the_stamp_is_taken(delta_s):
    times = DriverTimes()
    for k in range(20):
        stamp_s = 3.0 + 0.25 * k
        assert times.step(delta_s, stamp_s) == pytest.approx(stamp_s, abs=midi.LATE_S)


def test_note_on_with_velocity_zero_is_off():
    """MIDI 1.0 specification: a note on of velocity 0 is a note off."""
    assert note_event([0x93, 60, 100], 7) == NoteEvent(7, 60, 100, on=True)
    assert note_event([0x93, 60, 0], 7) == NoteEvent(7, 60, 0, on=False)
    assert note_event([0x85, 60, 64], 7) == NoteEvent(7, 60, 64, on=False)
    for other in ([0xB0, 64, 127], [0xF8], [0xE0, 0, 64], [0xC0, 5]):
        assert note_event(other, 7) is None


class Base:
    """A base port driven by hand: 480 frames a read, time and frames in step from zero."""

    rate, ended = RATE, False

    def __init__(self) -> None:
        self.at, self.gaps = 0, ()

    def open(self) -> None:
        pass

    def close(self) -> None:
        pass

    def read(self) -> Chunk:
        self.at += 480
        return Chunk(self.at - 480, 480, gaps=self.gaps)

    def frame_at(self, at_s: float) -> float:
        return at_s * RATE

    def time_at(self, frame: float) -> float:
        return frame / RATE

    def end(self) -> None:
        pass


class Source:
    def __init__(self) -> None:
        self.came: list = []

    def open(self) -> None:
        pass

    def close(self) -> None:
        pass

    def look(self) -> bool:
        return False

    def poll(self) -> list:
        came, self.came = self.came, []
        return came


def test_a_note_that_comes_late_is_still_in_its_chunk():
    base, source = Base(), Source()
    port = MidiPort(base, MidiNotes(base, source))
    chunks = []
    for k in range(50):
        if k == 20:  # played at frame 9000, known only now, at 9600
            source.came.append((9000 / RATE, [0x90, 60, 90]))
        chunks.append(port.read())
    assert all(b.frame == a.end_frame for a, b in itertools.pairwise(chunks))
    (holder,) = [c for c in chunks if c.notes]
    assert holder.notes == (NoteEvent(9000, 60, 90, on=True),)
    assert holder.frame <= 9000 < holder.end_frame
    assert all(c.samples is None for c in chunks)
    assert chunks[-1].end_frame == base.at - round(midi.LATE_S * RATE)


def test_a_pedal_keeps_its_messages():
    source = Source()
    base = Base()
    port = MidiPort(base, MidiNotes(base, source, take=lambda message: message[1] == 60))
    source.came = [(0.0, [0x90, 60, 90]), (0.0, [0x90, 61, 90])]
    notes = [n.pitch for _ in range(10) for n in port.read().notes]
    assert notes == [61]


def some_midi(monkeypatch, *names):
    found = tuple(devices.MidiDevice(k, name) for k, name in enumerate(names))
    monkeypatch.setattr(midi, "list_midi", lambda direction, api: found)


def test_the_port_is_chosen_by_name_or_number(monkeypatch):
    some_midi(monkeypatch, "Valve one", "Valve two", "Wind")
    assert choose_midi("input", "wind", "auto").number == 2
    assert choose_midi("input", "1", "auto").name == "Valve two"
    with pytest.raises(CoachError, match="'valve' fits several MIDI inputs; choose by number: 0"):
        choose_midi("input", "valve", "auto")
    with pytest.raises(CoachError, match="there is no MIDI input 'horn'; there are: 0 Valve one"):
        choose_midi("input", "horn", "auto")
    with pytest.raises(DeviceError, match="there are several MIDI inputs; choose with --device"):
        choose_midi("input", None, "auto")
    some_midi(monkeypatch, "Wind")
    assert choose_midi("input", None, "auto").name == "Wind"
    some_midi(monkeypatch)
    with pytest.raises(DeviceError, match="there is no MIDI input"):
        choose_midi("input", None, "auto")


def test_the_clock_runs_24_to_the_quarter_from_start_to_stop():
    """MIDI 1.0 specification: 0xF8 24 times a quarter, 0xFA start, 0xFC stop."""
    plan = plan_of([60] * 8, tempo_bpm=97.0)
    messages = clock_messages(plan)
    assert messages[0] == (plan.start_frame, (0xFA,))
    assert messages[-1] == (plan.end_frame, (0xFC,))
    clocks = [frame for frame, message in messages if message == (0xF8,)]
    assert len(clocks) == 8 * 24
    for k in range(8):
        assert abs(clocks[24 * k] - plan.clicks[k].frame) <= 1


def test_the_click_notes_fall_on_the_clicks():
    """General MIDI level 1: channel 10, key 76 high wood block, 77 low wood block."""
    plan = plan_of([60] * 8)
    ons = [(f, m) for f, m in click_notes(plan) if m[0] == 0x99]
    assert [f for f, _ in ons] == [c.frame for c in plan.clicks]
    assert [m[1] for _, m in ons[:5]] == [76, 77, 77, 77, 76]
    offs = [m for _, m in click_notes(plan) if m[0] == 0x89]
    assert len(offs) == len(ons)


def test_the_sender_sends_in_order_and_stops_cleanly():
    sent: list[tuple[int, ...]] = []
    done = threading.Event()

    def send(message: tuple[int, ...]) -> None:
        sent.append(message)
        if message == (3,):
            done.set()

    sender = Sender(send)
    sender.schedule([(2, (2,)), (1, (0,)), (1, (1,)), (3, (3,))], lambda frame: 0.0)
    assert done.wait(10)
    sender.schedule([(1, (9,))], lambda frame: float("1e12"), after=((7,),))
    sender.schedule((), lambda frame: 0.0)
    sender.close()
    assert sent == [(0,), (1,), (2,), (3,), (7,)]


class Rig:
    """The MIDI devices of a computer, a clock driven by hand, and what was sent and asked."""

    def __init__(self, monkeypatch, *names):
        self.names, self.now_s, self.asked, self.sent = list(names), 10.0, 0, []
        self.clients = []
        self.api = "LINUX_ALSA"
        for module in (midi, away):
            monkeypatch.setattr(module, "now_s", lambda: self.now_s)
        monkeypatch.setattr(away, "wait", self.wait)
        monkeypatch.setattr(midi, "midi_client", self.client)
        monkeypatch.setattr(midi, "list_midi", self.listed)

    def wait(self, seconds):
        self.now_s += seconds

    def listed(self, direction, api):
        return tuple(devices.MidiDevice(k, name) for k, name in enumerate(self.names))

    def client(self, direction, api):
        self.clients.append(Client(self))
        return self.clients[-1]


class Client:
    """One client; what is sent when its device is gone fails."""

    def __init__(self, rig):
        self.rig, self.open = rig, True
        self.heard = None

    def set_callback(self, heard):
        self.heard = heard

    def cancel_callback(self):
        self.heard = None

    def get_ports(self):
        assert self.open
        self.rig.asked += 1
        return list(self.rig.names)

    def open_port(self, number):
        self.name = self.rig.names[number]

    def send_message(self, message):
        assert self.open
        if self.name not in self.rig.names:
            raise RuntimeError("no such device")
        self.rig.sent.append(tuple(message))

    def get_current_api(self):
        return getattr(midilib.midi_library(), f"API_{self.rig.api}")

    def close_port(self):
        pass

    def delete(self):
        self.open = False


def reads(rig, port, seconds):
    """Read for so long; the chunks, and what was said instead."""
    chunks, said = [], []
    until_s = rig.now_s + seconds
    while rig.now_s < until_s:
        rig.now_s += 0.01
        try:
            chunks.append(port.read())
        except DeviceAwayError as error:
            said.append(str(error))
    return chunks, said


def test_a_pulled_cable_is_noticed_and_once_back_the_instrument_is_heard_again(monkeypatch):
    """Names as ALSA gives them: the numbers behind change."""
    rig = Rig(monkeypatch, "Through 14:0", "Keys:Keys MIDI 1 20:0")
    base = Base()
    source = MidiInput("keys")
    port = MidiPort(base, MidiNotes(base, source)).open()
    assert reads(rig, port, 3.0)[1] == []
    assert 3 <= rig.asked <= 4  # once a second
    rig.names.pop()
    chunks, said = reads(rig, port, 3.0)
    assert set(said) == {"Keys:Keys MIDI 1 20:0: it was unplugged; plug it in and start again."}
    assert len(chunks) <= 100
    rig.names.append("Keys:Keys MIDI 1 24:0")
    reads(rig, port, 2.0)
    assert [client.open for client in rig.clients] == [False, True]
    base.at = round(rig.now_s * RATE)
    rig.clients[-1].heard(([0x90, 60, 90], 0.0), None)
    chunks, said = reads(rig, port, 0.2)
    assert said == []
    assert [note.pitch for chunk in chunks for note in chunk.notes] == [60]
    port.close()
    assert not rig.clients[-1].open


@pytest.mark.parametrize(("api", "deleted"), [("LINUX_ALSA", True), ("UNIX_JACK", False)])
def test_under_jack_the_client_ends_with_the_process(monkeypatch, api, deleted):
    """Deleting it can hang, and Python with it (seen in the studio, see tests/studio/test_drill):
    it is kept, and the process is to end at once."""
    held, ended = [], []
    monkeypatch.setattr(leaving, "_held", held)
    monkeypatch.setattr(leaving.os, "_exit", ended.append)
    rig = Rig(monkeypatch, "Keys")
    rig.api = api
    MidiPort(Base(), MidiNotes(Base(), MidiInput())).open().close()
    leaving.leave(2)
    assert [not client.open for client in rig.clients] == [deleted]
    assert held == ([] if deleted else rig.clients)
    assert ended == ([] if deleted else [2])


def test_a_cable_that_stays_out_is_given_up(monkeypatch):
    rig = Rig(monkeypatch, "Keys")
    base = Base()
    port = MidiPort(base, MidiNotes(base, MidiInput())).open()
    rig.names.clear()
    with pytest.raises(DeviceError, match="Keys: it was unplugged and did not come back in two"):
        reads(rig, port, 200.0)


def test_what_hangs_on_the_output_is_silenced_when_its_cable_is_back(monkeypatch):
    """MIDI 1.0 specification: control 123 of value 0 is all notes off."""
    rig = Rig(monkeypatch, "Synth")
    silence = [(0xB0 | channel, 123, 0) for channel in range(16)]
    port = MidiOutPort(Base(), "synth").open()
    assert reads(rig, port, 1.5)[1] == []
    rig.names.clear()
    assert "Synth: it was unplugged" in reads(rig, port, 2.0)[1][0]
    port.end()
    assert rig.sent == []
    rig.names.append("Synth")
    reads(rig, port, 2.0)
    assert rig.sent == silence
    port.close()
    assert rig.sent == silence * 2


def test_a_loss_of_the_click_counts_only_if_it_is_long():
    """The notes come by another way than the sound."""
    base = Base()
    port = MidiPort(base, MidiNotes(base, Source()))
    base.gaps = (Gap(0, RATE - 1),)
    assert port.read().gaps == ()
    base.gaps = (Gap(480, RATE),)
    assert port.read().gaps == base.gaps
