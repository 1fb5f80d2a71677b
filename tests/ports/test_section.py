"""Several inputs on one axis."""

from __future__ import annotations

import numpy as np

from coach.core.take import Chunk, NoteEvent
from coach.ports.base import SoundPort
from coach.ports.midi import LATE_S, MidiNotes
from coach.ports.section import ChannelSource, MidiSource, SectionPort
from coach.ports.settings import SoundSettings
from tests.making import plan_of
from tests.ports.test_base import RATE, Wire


class Keys:
    """A MIDI input in which messages lie ready, at times in seconds."""

    name = "keys"

    def __init__(self, *messages) -> None:
        self.messages = list(messages)
        self.is_open = False

    def open(self) -> None:
        self.is_open = True

    def close(self) -> None:
        self.is_open = False

    def look(self):
        return False

    def poll(self):
        came, self.messages = self.messages, []
        return came


def test_each_channel_is_a_player_of_its_own():
    wire = Wire(players=3)
    port = SoundPort(wire, SoundSettings()).open()
    section = SectionPort(port, [ChannelSource(k) for k in (2, 0, 1)])
    plan = plan_of([60, 62, 64, 65])
    section.begin(plan)
    chunks = []
    while not chunks or chunks[-1].end_frame < RATE:
        wire.run(256)
        chunks.append(section.read())
    first, second, third = (
        np.concatenate([part(chunk).samples for chunk in chunks])
        for part in (lambda c: c, lambda c: c.beside[0], lambda c: c.beside[1])
    )
    assert np.max(np.abs(second)) > 0.01
    np.testing.assert_allclose(first, second / 3)
    np.testing.assert_allclose(third, second / 2)
    assert all(part.beside == () for chunk in chunks for part in chunk.beside)


def test_keys_lie_beside_the_microphone():
    class Base:
        rate, ended, at = RATE, False, 0

        def frame_at(self, at_s):
            return at_s * RATE

        def begin(self, plan):
            pass

        def read(self):
            self.at += 4800
            return Chunk(self.at - 4800, 4800, np.zeros(4800, np.float32))

    base = Base()
    keys = Keys((0.15, [0x90, 60, 90]), (0.35, [0x80, 60, 0]))
    section = SectionPort(base, [ChannelSource(0), MidiSource(MidiNotes(base, keys))])
    section.open()
    assert keys.is_open
    chunks = [section.read() for _ in range(5)]
    section.close()
    assert not keys.is_open
    notes = [note for chunk in chunks for note in chunk.beside[0].notes]
    assert notes == [NoteEvent(7200, 60, 90, on=True), NoteEvent(16800, 60, 0, on=False)]
    assert all(c.beside[0].end_frame == c.end_frame - round(LATE_S * RATE) for c in chunks)
