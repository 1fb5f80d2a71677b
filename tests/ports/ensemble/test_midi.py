"""The ensemble as MIDI: each message at its frame, voices on channels of their own."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from coach.core.timeline import frame_of
from coach.core.tutti.ensemble import Sounded, Voice
from coach.core.tutti.mixer import Mix, first_mix
from coach.ports.ensemble.midi import (
    EnsembleMidiPort,
    channel_of,
    ensemble_notes,
    places,
    setting_up,
    volumes,
)
from coach.ports.midi_out import PERCUSSION, Sender
from tests.ports.ensemble.making import RATE, apart, band, chord, plan_at

BAND = band(apart(60), chord(48, 60, 64), own=0)


@pytest.mark.parametrize("latency_ms", [0.0, 12.5])
@pytest.mark.parametrize("tempo_bpm", [53.0, 97.3, 144.0])
def test_every_note_is_sent_on_its_frame_less_the_latency(tempo_bpm, latency_ms):
    plan = plan_at(tempo_bpm)
    sent = ensemble_notes(BAND, plan, latency_ms)
    early = round(latency_ms * RATE / 1000)
    for number, voice in enumerate(BAND.voices):
        for note in voice.notes:
            on, off = (
                frame_of(plan.exercise, RATE, plan.downbeat_frame, beats) - early
                for beats in (note.start_beats, note.end_beats)
            )
            assert (on, (0x90 | number, note.pitch, note.velocity)) in sent
            assert (off, (0x80 | number, note.pitch, 0)) in sent
    assert len(sent) == 2 * sum(len(voice.notes) for voice in BAND.voices)
    assert [frame for frame, _ in sent] == sorted(frame for frame, _ in sent)


def test_a_repeated_note_ends_before_it_begins_again():
    notes = tuple(Sounded(Fraction(k), Fraction(1), 60) for k in range(3))
    sent = ensemble_notes(band(Voice("invented", 60, notes)), plan_at(97.3))
    assert [message[0] & 0xF0 for _, message in sent] == [0x90, 0x80] * 3


def test_each_voice_has_a_channel_and_none_is_the_drums():
    channels = [channel_of(k) for k in range(15)]
    assert len(set(channels)) == 15
    assert PERCUSSION not in channels
    assert channel_of(15) == channel_of(0)


def test_programs_volumes_and_places_are_set_up_first():
    mix = replace(first_mix(BAND), levels_db=(0.0, -6.0))
    messages = [message for _, message in setting_up(BAND, mix, 7)]
    # 40 log10(71 / 100) dB is -5.95 dB.
    levels = [(0xB0, 7, 0), (0xB1, 7, 71), (0xB0, 10, 64), (0xB1, 10, 64)]
    assert messages == [(0xC0, 60), (0xC1, 48), *levels]
    loud = replace(mix, levels_db=(0.0, 6.0), muted=frozenset())
    assert [m[2] for _, m in volumes(loud, 0)] == [100, 127]


def test_places_are_sent_as_pan():
    """MIDI 1.0, controller 10: 0 left, 64 the middle, 127 right."""
    sent = {}
    for pan in (-1.0, -0.5, 0.0, 0.5, 1.0):
        (_, first), (_, second) = places(replace(first_mix(BAND), pans=(0.0, pan)), 3)
        assert first == (0xB0, 10, 64)
        sent[pan] = second
    assert [message[2] for message in sent.values()] == [0, 32, 64, 96, 127]
    assert {message[:2] for message in sent.values()} == {(0xB1, 10)}
    crowd = Mix((0.0,) * 16, pans=(-1.0, *(0.0,) * 14, 0.0))
    assert [message[2] for _, message in places(crowd, 0)] == [32, *[64] * 14]


class Clock:
    """A base port whose frames all lie in the past: everything is due at once."""

    rate, ended = RATE, False

    def __init__(self) -> None:
        self.began = []

    def begin(self, plan):
        self.began.append(plan)

    def end(self):
        self.began.append(None)

    def close(self):
        pass

    def position(self):
        return 0

    def time_at(self, frame):
        return frame / RATE - 1e9


def test_a_take_sets_up_plays_and_takes_a_new_mix():
    sent: list[tuple[int, ...]] = []
    port = EnsembleMidiPort(Clock(), lambda plan: BAND, first_mix(BAND))
    port._sender = Sender(sent.append)
    plan = plan_at(97.3)
    port.begin(plan)
    notes = [message for _, message in ensemble_notes(BAND, plan)]
    while len(sent) < 6 + len(notes):
        pass
    assert sent[6:] == notes
    port.set_mix(replace(first_mix(BAND), solo=frozenset({0}), pans=(1.0, 0.0)))
    while len(sent) < 10 + len(notes):
        pass
    assert sent[-4:] == [(0xB0, 7, 100), (0xB1, 7, 0), (0xB0, 10, 127), (0xB1, 10, 64)]
    port._sender.close()


def test_an_open_port_knows_the_time_before_the_first_take(monkeypatch):
    """Read from once: a sound port that was not has no time for any frame."""

    class Card(Clock):
        looks = 0

        def open(self):
            self.looks = 0

        def read(self):
            self.looks += 1

    card = Card()
    port = EnsembleMidiPort(card, lambda plan: BAND, first_mix(BAND))
    monkeypatch.setattr(port._link, "open", lambda: None)
    monkeypatch.setattr(port._link, "close", lambda: None)
    port.open()
    assert card.looks == 1
    port.close()


def test_what_is_added_goes_out_between_what_is_scheduled():
    sent: list[tuple[int, ...]] = []
    sender = Sender(sent.append)
    held = {"now": 1e8}
    sender.schedule([(1, (1,)), (3, (3,))], lambda frame: held["now"], after=((9,),))
    sender.add([(2, (2,))])
    held["now"] = -1e8
    sender.add([(4, (4,))])
    while len(sent) < 4:
        pass
    assert sent == [(1,), (2,), (3,), (4,)]
    sender.close()
