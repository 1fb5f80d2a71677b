"""The coach's side of the studio tests: `python -m tests.studio.side JOB JSON` prints JSON.

A process of its own, because PortAudio finds the sound server when it is loaded.
"""

from __future__ import annotations

import itertools
import json
import sys
import threading
import time
from fractions import Fraction
from typing import Any

import numpy as np

from coach.core.exercise import ClickStyle, Exercise
from coach.core.passage import Passage, in_a_row
from coach.core.timeline import Plan, count_in_frames, plan_take
from coach.errors import CoachError
from coach.ports.base import SoundPort, open_sound
from coach.ports.settings import SoundSettings

Job = dict[str, Any]


def port_of(job: Job, **more: Any) -> SoundPort:
    settings = SoundSettings.from_table(job.get("settings", {}))
    return open_sound(settings, "system", "system", **more)


def plan_for(port: Any, bpm: float, bars: int) -> Plan:
    """Quarter notes under the click, from the earliest frame."""
    exercise = Exercise(
        Passage(in_a_row([60] * 4 * bars, Fraction(1))), bpm, click=ClickStyle(sound="tick")
    )
    return plan_take(
        exercise, port.rate, port.earliest_frame() + count_in_frames(exercise, port.rate)
    )


def say(**told: Any) -> None:
    sys.stdout.write(json.dumps(told) + "\n")
    sys.stdout.flush()


def listen(port: Any, until_frame: int) -> list[Any]:
    chunks = [port.read()]
    while chunks[-1].end_frame < until_frame:
        chunks.append(port.read())
    return chunks


def summary(chunks: list[Any]) -> Job:
    """Gaps as [frame, length], and whether the chunks join without a seam."""
    seams = [b.frame - a.end_frame for a, b in itertools.pairwise(chunks)]
    return {
        "gaps": [[g.frame, g.length_frames] for c in chunks for g in c.gaps],
        "seamless": not any(seams),
        "first_frame": chunks[0].frame,
        "end_frame": chunks[-1].end_frame,
    }


def clicks(job: Job) -> None:
    """Sound a plan; tell its clicks and what was heard from the input meanwhile."""
    with port_of(job, round_trip_frames=job.get("round_trip_frames", 0)) as port:
        say(event="open")
        sys.stdin.readline()
        plan = plan_for(port, job["bpm"], job["bars"])
        port.begin(plan)
        say(event="begun")
        chunks = listen(port, plan.end_frame)
        port.end()
    if job.get("keep"):
        np.save(job["keep"], np.concatenate([c.samples for c in chunks]))
    told = [click.frame for click in plan.clicks]
    say(
        clicks=told,
        kinds=[c.kind for c in plan.clicks],
        downbeat=plan.downbeat_frame,
        **summary(chunks),
    )


def stall(job: Job) -> None:
    """Stop reading for a while under a looped click; tell the gaps and the clicks heard."""
    with port_of(job, round_trip_frames=job["round_trip_frames"]) as port:
        say(event="open")
        sys.stdin.readline()
        plan = plan_for(port, job["bpm"], job["bars"])
        port.begin(plan)
        chunks = listen(port, plan.downbeat_frame)
        before_s = time.perf_counter()
        time.sleep(job["stall_s"])
        stalled_s = time.perf_counter() - before_s
        chunks += listen(port, plan.end_frame)
    np.save(job["keep"], np.concatenate([c.samples for c in chunks]))
    say(stalled_s=stalled_s, downbeat=plan.downbeat_frame, **summary(chunks))


def read_on(job: Job) -> None:
    """Read until the device fails."""
    try:
        with port_of(job) as port:
            say(event="open")
            while True:
                port.read()
    except CoachError as error:
        say(error=str(error), status=error.exit_status)


def pulled_out(job: Job) -> None:
    """The stream dies under the coach, who waits for the device; tell what is said, and then the
    clicks of a plan and what was heard of them."""
    from coach.errors import DeviceAwayError
    from coach.ports import stream

    stream.JACK = ""  # a server that lives can be joined again, unlike one that died
    with port_of(job, round_trip_frames=job["round_trip_frames"]) as port:
        listen(port, port.rate // 2)
        port._engine._stream.abort()
        said = set()
        while True:
            try:
                port.read()
                break
            except DeviceAwayError as error:
                said.add(str(error))
        say(said=sorted(said))
        sys.stdin.readline()
        plan = plan_for(port, job["bpm"], job["bars"])
        port.begin(plan)
        chunks = listen(port, plan.end_frame)
    np.save(job["keep"], np.concatenate([c.samples for c in chunks]))
    say(clicks=[click.frame for click in plan.clicks], **summary(chunks))


def round_trip(job: Job) -> None:
    from coach.hear.roundtrip import find_round_trip, make_probe
    from coach.ports.roundtrip_io import record_probes

    with port_of(job) as port:
        say(event="open")
        sys.stdin.readline()
        probe = make_probe(port.rate)
        kept = record_probes(port, probe)
    try:
        found = find_round_trip(kept.samples, probe, kept.sent_frames, kept.rate)
    except CoachError as error:
        say(error=str(error))
    else:
        say(frames=found.frames, spread=found.spread_frames, level_db=found.level_db)


def midi(job: Job) -> None:
    """Sound a plan and tell the MIDI notes that came."""
    from coach.ports.midi import MidiInput, MidiNotes, MidiPort

    base = port_of(job, round_trip_frames=job["round_trip_frames"], listens=job["listens"])
    with MidiPort(base, MidiNotes(base, MidiInput("notes"))) as port:
        say(event="open")
        sys.stdin.readline()
        plan = plan_for(port, job["bpm"], job["bars"])
        port.begin(plan)
        chunks = listen(port, plan.end_frame)
    notes = [
        [n.frame - plan.downbeat_frame, n.pitch, n.velocity, n.on] for c in chunks for n in c.notes
    ]
    say(notes=notes, **summary(chunks))


def midi_out(job: Job) -> None:
    """Send a plan as click notes and MIDI clock, by the computer's clock alone."""
    from coach.ports.clock import ClockPort
    from coach.ports.midi_out import MidiOutPort

    with MidiOutPort(ClockPort(), "drums", clicks=True, clock=True) as port:
        plan = plan_for(port, job["bpm"], job["bars"])
        port.begin(plan)
        listen(port, plan.end_frame + port.rate // 5)
        port.end()
    say(clicks=[c.frame for c in plan.clicks])


def count(job: Job) -> None:
    """Read for some seconds, with or without a busy thread beside; tell what was lost."""
    stop = threading.Event()

    def toil() -> None:
        while not stop.is_set():
            sum(k * k for k in range(20_000))

    if job["busy"]:
        threading.Thread(target=toil, daemon=True).start()
    lost = gaps = 0
    with port_of(job) as port:
        start = end = port.read().frame
        while end - start < job["seconds"] * port.rate:
            chunk = port.read()
            end = chunk.end_frame
            lost += sum(gap.length_frames for gap in chunk.gaps)
            gaps += len(chunk.gaps)
    stop.set()
    say(lost=lost, gaps=gaps, frames=end - start)


def devices(job: Job) -> None:
    from coach.ports.devices import list_devices

    found = list_devices()
    say(
        inputs=[d.name for d in found.sound_inputs],
        outputs=[d.name for d in found.sound_outputs],
        midi=[d.name for d in found.midi_inputs],
    )


JOBS = {
    f.__name__: f
    for f in (clicks, stall, read_on, pulled_out, round_trip, midi, midi_out, count, devices)
}

if __name__ == "__main__":
    JOBS[sys.argv[1]](json.loads(sys.argv[2]))
