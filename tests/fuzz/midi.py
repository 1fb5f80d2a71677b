"""MIDI that no instrument sends: any bytes, at any time, in any number, through input, pedal, ear
and judge, and back out as clock and clicks."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from random import Random

from coach.core.judge import Judge
from coach.core.rules import Rules
from coach.core.take import Chunk
from coach.files.configs import load_keys
from coach.hear.midi_notes import MidiEar
from coach.hear.releases import ReleaseEar
from coach.ports.midi import MidiInput, MidiNotes, note_event
from coach.ports.pedal import Pedal
from tests.fuzz.plain import strict
from tests.fuzz.sounds import plan_at

RATE = 48_000
# Seconds since the message before, as drivers tell it, nonsense among them.
DELTAS = (0.0, 0.001, 0.02, 9.0, -1.0, 1e6)


class Base:
    """A port driven by hand, time and frames in step from zero."""

    rate, ended = RATE, False

    def frame_at(self, at_s: float) -> float:
        return at_s * RATE


def message(random: Random) -> Sequence[int]:
    """Mostly notes, else any bytes: none at all, too few, too many, data without a status, system
    messages, sysex that never ends."""
    match random.randrange(10):
        case 0:
            return [random.randrange(256) for _ in range(random.randrange(5))]
        case 1:
            return random.choice([[], [0xF8], [0xFF], [0xF0, 1, 2], [5, 0xF7], [60, 100], [0xB0]])
        case 2:
            return [0xF0, *(random.randrange(128) for _ in range(2_000))]
        case 3:
            return bytes(
                [0xB0 | random.randrange(16), random.randrange(128), random.randrange(128)]
            )
    status = random.choice([0x80, 0x90, 0x90]) | random.randrange(16)
    return [status, random.choice([58, 60, 62, 63, 0, 127]), random.choice([0, 1, 64, 127])]


def midi(random: Random, folder: Path) -> str:
    """Every note gets its verdict, however many messages come and in whatever order."""
    plan = plan_at(RATE)
    source, pedal = MidiInput(), Pedal(load_keys()["pedal"])
    source.look = lambda: None  # type: ignore[method-assign]
    notes = MidiNotes(Base(), source, random.choice([None, pedal.take]))  # type: ignore[arg-type]
    ear = ReleaseEar(plan.dues, RATE, [0, 3], lambda heard: MidiEar())
    judge = Judge(plan.dues, Rules(), RATE)
    many = random.choice([0, 1, 5, 100, 10_000])
    stamps = sorted(random.uniform(-1, 1.5) for _ in range(many))
    for part in range(8):
        now_s = part * 0.1
        for stamp_s in stamps[part::8]:
            # Behind the back of the driver: what its callback would put there.
            source._came.append((stamp_s, random.choice(DELTAS), message(random)))
        chunk = notes.upto(Chunk(round((now_s - 0.1) * RATE), RATE // 10))
        assert all(note.frame < chunk.end_frame for note in chunk.notes)
        judge.step(ear.feed(chunk))
        assert set(pedal.poll()) <= {"go", "again", "slower", "faster", "quit"}
    judge.step(ear.finish())
    judge.finish()
    report = judge.report()
    strict(json.dumps(report.to_dict()))
    assert len(report.verdicts) == len(plan.dues)
    return f"{many} messages"


def bare(random: Random, folder: Path) -> str:
    """One message by itself."""
    told = note_event(message(random), random.choice([0, -5, 2**40]))
    if told is None:
        return "no note"
    evidence = MidiEar().feed(Chunk(told.frame, 1, None, (told,)))
    assert len(evidence.attacks) == (told.on and told.velocity > 0)
    return "note"
