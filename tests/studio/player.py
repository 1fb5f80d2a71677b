"""A player in a process of its own, on the virtual sound card: hears the click, plays in time.

Run as `python -m tests.studio.player` with the environment of the `studio` fixture.  It connects
its output `player:out` to the coach's input and the coach's first output to `player:in`, as soon as
the coach is there, offers `player:notes` as a MIDI source and hears MIDI at `player:drums`.  With
a number from 1 behind the command it is one of several: `player2` plays into the second input.
It takes one JSON object a line:

    {"do": "take", "count_in": 4, "audio": "take.npy", "downbeat_frame": 4800, "delay_frames": 0,
     "notes": [[0, [144, 60, 100]], [2400, [128, 60, 0]]]}
        Hear `count_in` clicks, then play `audio` (float32, mono) so that its frame `downbeat_frame`
        falls where the next click is due, and send the MIDI messages `notes` that many frames
        after it; everything `delay_frames` later.  Audio and notes may each be left out.
        Clicks that were heard since the last long silence count, so it may come a little late.
    {"do": "loop", "delay_frames": 480}
        Send back what is heard, so much later (a loudspeaker and a microphone).
    {"do": "answer", "delay_frames": 480}
        Sound a short note that much after each MIDI note on (a slow instrument).
    {"do": "room", "response": "room.npy"}
        Send back what is heard through a room from now on: convolved with that response (float32,
        at the server's rate), without further delay.
    {"do": "record", "frames": 480000, "path": "heard.npy"}
        Keep what is heard from the next click on.
    {"do": "hurry", "speed": 8}
        Let the server run that much faster than real time from now on.
    {"do": "midi"}
        Tell the MIDI messages heard so far: {"event": "midi", "messages": [[frame, [bytes]], ...]}.
    {"do": "stop"}      be silent, forget everything above
    {"do": "quit"}      (or the end of its input)

and writes one JSON object a line: {"event": "ready"}, {"event": "obeyed"} for each order but the
last, {"event": "connected", "to": NAME},
{"event": "locked", "clicks": [frames], "downbeat_frame": frame},
{"event": "played", "missed_frames": 0, "clicks": [frames]},
{"event": "recorded", "missed_frames": 0}, all in frames of the server.  The way from the click to
the player and back to the coach is part of the coach's round trip (see `studio.round_trip_frames`).
"""

from __future__ import annotations

import contextlib
import json
import os
import queue
import sys
import threading
import time
from typing import Any

import jack
import numpy as np

from tests.studio.room import Room

NAME = "player"
AUDIBLE = 1e-4
QUIET_S = 0.03
LONG_SILENCE_S = 1.6
LOOP_FRAMES = 1 << 17
LOOK_S = 0.02
# What answers: 50 ms of a tone of 500 Hz at 48 kHz.
NOTE = (0.2 * np.sin(np.arange(1, 2401) * np.pi / 48)).astype(np.float32)


class Clicks:
    """Onsets of clicks: the first audible sample after a short quiet."""

    def __init__(self, rate: int) -> None:
        self.rate = rate
        self.run: list[int] = []
        self._audible_frame = -rate

    def feed(self, frame: int, samples: np.ndarray) -> None:
        audible = np.flatnonzero(np.abs(samples) > AUDIBLE)
        for at in audible:
            if frame + at - self._audible_frame > QUIET_S * self.rate:
                self._note(frame + int(at))
            self._audible_frame = frame + int(at)

    def _note(self, onset: int) -> None:
        if self.run and onset - self.run[-1] > LONG_SILENCE_S * self.rate:
            self.run = []
        self.run.append(onset)


class Task:
    """One take to be played."""

    def __init__(self, order: dict[str, Any]) -> None:
        self.count_in = order["count_in"]
        self.audio = np.load(order["audio"]) if order.get("audio") else np.zeros(0, np.float32)
        self.pickup = order.get("downbeat_frame", 0)
        self.delay = order.get("delay_frames", 0)
        self.notes = [(frame, bytes(message)) for frame, message in order.get("notes", [])]
        self.start: int | None = None
        self.missed_frames = 0
        self._next_frame: int | None = None

    def follow(self, frame: int, frames: int) -> None:
        """Count what the server left out since the count-in was heard."""
        if self.start is not None and self._next_frame is not None:
            self.missed_frames += frame - self._next_frame
        self._next_frame = frame + frames

    def lock(self, run: list[int]) -> int | None:
        """The downbeat, once the count-in was heard; None before, or when it is too late."""
        if len(run) != self.count_in:
            return None
        period = (run[-1] - run[0]) / (self.count_in - 1)
        downbeat = round(run[0] + self.count_in * period)
        self.start = downbeat - self.pickup + self.delay
        self.notes = [(downbeat + self.delay + frame, message) for frame, message in self.notes]
        return downbeat

    def mix(self, frame: int, out: np.ndarray) -> None:
        if self.start is None:
            return
        begin, end = max(self.start, frame), min(self.start + len(self.audio), frame + len(out))
        if begin < end:
            out[begin - frame : end - frame] += self.audio[begin - self.start : end - self.start]

    def over(self, frame: int) -> bool:
        return self.start is not None and frame >= self.start + len(self.audio) and not self.notes


class Recording:
    """What is heard from the next click on, at its place in the server's frames."""

    def __init__(self, frames: int, path: str) -> None:
        self.samples = np.zeros(frames, np.float32)
        self.path = path
        self.start: int | None = None
        self.seen = 0

    def feed(self, frame: int, heard: np.ndarray) -> None:
        if self.start is None:
            audible = np.flatnonzero(np.abs(heard) > AUDIBLE)
            if len(audible) == 0:
                return
            self.start = frame
        at = frame - self.start
        part = self.samples[at : at + len(heard)]
        part[:] = heard[: len(part)]
        self.seen += len(part)

    def over(self, frame: int) -> bool:
        return self.start is not None and frame - self.start >= len(self.samples)


class Player:
    """The process callback and what it is busy with."""

    def __init__(self, number: int = 1) -> None:
        self.number = number
        name = NAME if number == 1 else f"{NAME}{number}"
        self.client = jack.Client(name, no_start_server=True)
        self.heard = self.client.inports.register("in")
        self.sound = self.client.outports.register("out")
        self.midi = self.client.midi_outports.register("notes")
        self.drums = self.client.midi_inports.register("drums")
        self.messages: list[tuple[int, list[int]]] = []
        self.clicks = Clicks(self.client.samplerate)
        self.task: Task | None = None
        self.recording: Recording | None = None
        self.loop_delay: int | None = None
        self.loop = np.zeros(LOOP_FRAMES, np.float32)
        self.answer_delay: int | None = None
        self.answers: list[int] = []
        self.room: Room | None = None
        self.speed = 1.0
        self.hurried: tuple[int, float] = (0, 0.0)
        self.events: queue.SimpleQueue[dict[str, Any]] = queue.SimpleQueue()
        self.client.set_process_callback(self.process)
        self.client.activate()

    def process(self, frames: int) -> None:
        self._hold_back(frames)
        frame = self.client.last_frame_time
        heard = self.heard.get_array()
        out = self.sound.get_array()
        out[:] = 0
        self.midi.clear_buffer()
        for offset, message in self.drums.incoming_midi_events():
            self.messages.append((frame + offset, list(bytes(message))))
            if self.answer_delay is not None and bytes(message)[0] & 0xF0 == 0x90:
                self.answers.append(frame + offset + self.answer_delay)
        self.clicks.feed(frame, heard)
        self._record(frame, heard)
        self._loop(frame, heard, out)
        room = self.room
        if room is not None:
            out += room.answer(frame, heard)
        self._play(frame, out)
        self._answer(frame, out)

    def _answer(self, frame: int, out: np.ndarray) -> None:
        for at in self.answers:
            begin, end = max(at, frame), min(at + len(NOTE), frame + len(out))
            if begin < end:
                out[begin - frame : end - frame] += NOTE[begin - at : end - at]
        self.answers = [at for at in self.answers if at + len(NOTE) > frame + len(out)]

    def _hold_back(self, frames: int) -> None:
        """The server runs as fast as its clients let it: keep it to the speed asked for."""
        if self.speed > 1:
            done, since_s = self.hurried
            self.hurried = (done + frames, since_s)
            ahead_s = done / (self.client.samplerate * self.speed) - (time.monotonic() - since_s)
            time.sleep(max(0.0, ahead_s))

    def _record(self, frame: int, heard: np.ndarray) -> None:
        recording = self.recording
        if recording is not None:
            recording.feed(frame, heard)
            if recording.over(frame + len(heard)):
                self.recording = None
                self.events.put({"save": recording})

    def _loop(self, frame: int, heard: np.ndarray, out: np.ndarray) -> None:
        places = np.arange(frame, frame + len(heard)) % LOOP_FRAMES
        self.loop[places] = heard
        if self.loop_delay is not None:
            out += self.loop[(places - self.loop_delay) % LOOP_FRAMES]

    def _play(self, frame: int, out: np.ndarray) -> None:
        task = self.task
        if task is None:
            return
        if task.start is None:
            downbeat = task.lock(self.clicks.run)
            if downbeat is not None:
                clicks = list(self.clicks.run)
                told = {"event": "locked", "clicks": clicks, "downbeat_frame": downbeat}
                self.events.put(told)
        task.follow(frame, len(out))
        task.mix(frame, out)
        self._send_notes(task, frame, len(out))
        if task.over(frame + len(out)):
            self.task = None
            clicks = list(self.clicks.run)
            told = {"event": "played", "missed_frames": task.missed_frames, "clicks": clicks}
            self.events.put(told)

    def _send_notes(self, task: Task, frame: int, length: int) -> None:
        while task.start is not None and task.notes and task.notes[0][0] < frame + length:
            at, message = task.notes.pop(0)
            self.midi.write_midi_event(max(0, at - frame), message)

    def obey(self, order: dict[str, Any]) -> None:
        if order["do"] == "take":
            self.task = Task(order)
        elif order["do"] == "loop":
            self.loop_delay = order["delay_frames"]
        elif order["do"] == "answer":
            self.answer_delay = order["delay_frames"]
        elif order["do"] == "room":
            self.room = Room(np.load(order["response"]), self.client.blocksize)
        elif order["do"] == "record":
            self.recording = Recording(order["frames"], order["path"])
        elif order["do"] == "midi":
            self.events.put({"event": "midi", "messages": list(self.messages)})
        elif order["do"] == "hurry":
            self.hurried = (0, time.monotonic())
            self.speed = order["speed"]
            self.client.set_freewheel(True)
        elif order["do"] == "stop":
            self.task = self.recording = self.loop_delay = self.room = None
            self.clicks = Clicks(self.client.samplerate)

    def connect(self) -> None:
        """Connect to the coach, the only other client with audio ports beside the sound card."""
        for port in self.client.get_ports(is_audio=True):
            other = not port.name.startswith(("system:", NAME))
            wanted = f"_{self.number - 1}" if port.is_input else "_0"
            if other and port.name.endswith(wanted):
                mine = self.sound if port.is_input else self.heard
                if not self._joined(mine, port):
                    self._join(*((mine, port) if port.is_input else (port, mine)), port.name)

    def _join(self, source: Any, target: Any, name: str) -> None:
        with contextlib.suppress(jack.JackError):  # the coach may just be leaving
            self.client.connect(source, target)
            self.events.put({"event": "connected", "to": name})

    def _joined(self, mine: Any, other: Any) -> bool:
        return other.name in [port.name for port in self.client.get_all_connections(mine)]


def tell(event: dict[str, Any]) -> None:
    recording = event.pop("save", None)
    if recording is not None:
        np.save(recording.path, recording.samples)
        missed = len(recording.samples) - recording.seen
        event = {"event": "recorded", "missed_frames": missed, "start_frame": recording.start}
    sys.stdout.write(json.dumps(event) + "\n")
    sys.stdout.flush()


def be_urgent() -> None:
    """All threads before other programs, where that is allowed: one that is put off while it holds
    Python's lock would hold up the server's callback."""
    with contextlib.suppress(OSError, AttributeError):
        os.sched_setscheduler(0, os.SCHED_RR, os.sched_param(5))


def main() -> None:
    be_urgent()
    player = Player(*(int(number) for number in sys.argv[1:]))
    orders: queue.SimpleQueue[dict[str, Any]] = queue.SimpleQueue()

    def listen() -> None:
        for line in sys.stdin:
            orders.put(json.loads(line))
        orders.put({"do": "quit"})

    threading.Thread(target=listen, daemon=True).start()
    tell({"event": "ready"})
    while True:
        player.connect()
        while not player.events.empty():
            tell(player.events.get())
        try:
            order = orders.get(timeout=LOOK_S)
        except queue.Empty:
            continue
        if order["do"] == "quit":
            break
        player.obey(order)
        tell({"event": "obeyed"})
    player.client.deactivate()
    player.client.close()


if __name__ == "__main__":
    main()
