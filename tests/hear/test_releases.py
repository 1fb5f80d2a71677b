"""Where notes stop, in sound and MIDI, against ends that are known."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from coach.core.take import Attack, Chunk, Evidence, Gap, NoteEvent
from coach.core.timeline import Click, Due
from coach.hear.bend import stop_frame
from coach.hear.follow.ear import FollowEar
from coach.hear.midi_notes import MidiEar
from coach.hear.releases import ReleaseEar
from coach.hear.through import ThroughEar
from coach.ports.click import click_sound
from coach.ports.player.skill import PlayedNote
from coach.ports.player.tone import render
from tests.bed.room import reverberant

RATE = 44_100
ONE = Due(0, 60, RATE // 2, RATE)
DUES = (ONE, Due(1, 64, 2 * RATE, RATE // 2))
BLOCK = 441


def played(off_ms: float = 0.0, pitch: int = 60, dues=DUES):
    """As written, but that the first note stops so late."""
    off = round(off_ms * RATE / 1000)
    notes = [
        PlayedNote(
            d.frame, d.length_frames + (0 if d.index else off), pitch if d is ONE else d.pitch, -26
        )
        for d in dues
    ]
    return render(notes, RATE, 0, 4 * RATE, seed=3)


def in_hall(sound):
    """Echo of a second, half as loud as the note."""
    return reverberant(np.random.default_rng(5), sound.astype(float), 1.0, -6.0).astype(np.float32)


def ms_late(frame):
    return (frame - ONE.frame - ONE.length_frames) * 1000 / RATE


@pytest.mark.parametrize("pitch", [38, 50, 60, 72])
@pytest.mark.parametrize("off_ms", [-400.0, 0.0, 250.0])
def test_the_end_of_a_note_is_found(pitch, off_ms):
    sound = played(off_ms, pitch)
    found = stop_frame(sound, RATE, pitch, ONE.frame, DUES[1].frame - 1300)
    assert ms_late(found) == pytest.approx(off_ms, abs=25)


def test_the_echo_of_a_hall_is_no_late_release():
    """The level is 15 dB down a fifth of a second after the note."""
    found = stop_frame(in_hall(played()), RATE, 60, ONE.frame, DUES[1].frame - 1300)
    assert ms_late(found) == pytest.approx(0, abs=60)


def test_a_note_that_does_not_fall_silent_has_no_end():
    assert stop_frame(played(), RATE, 60, ONE.frame, ONE.frame + ONE.length_frames - 2000) is None
    assert stop_frame(played()[: ONE.frame + 900], RATE, 60, ONE.frame, ONE.frame + 900) is None


class Told:
    """An ear that is told the attacks, and hands on what it is given."""

    clipped = True

    def __init__(self, heard, indices=(0, 1)):
        self.heard, self.indices = heard, indices

    def feed(self, chunk):
        self.heard(chunk.frame, chunk.samples)
        return Evidence(up_to_frame=chunk.end_frame, gaps=chunk.gaps)

    def finish(self):
        attacks = tuple(Attack(DUES[k].frame, 60.0, due=k) for k in self.indices)
        return Evidence(attacks)


def hear(ear, sound, gaps=(), block=BLOCK):
    evidence = [
        ear.feed(Chunk(at, block, sound[at : at + block], gaps=gaps if at == 0 else ()))
        for at in range(0, len(sound) - block + 1, block)
    ]
    return evidence, ear.finish()


def test_the_ends_are_known_after_the_take():
    ear = ReleaseEar(DUES, RATE, (0, 1), Told)
    evidence, last = hear(ear, played(120.0))
    assert ms_late(ear.releases[0]) == pytest.approx(120, abs=25)
    end = DUES[1].frame + DUES[1].length_frames
    assert ear.releases[1] == pytest.approx(end, abs=0.025 * RATE)
    assert (len(last.attacks), ear.clipped) == (2, True)
    # It waits for the last end, and no longer.
    waited = [one.up_to_frame for one in evidence if one.waiting]
    assert end + RATE // 2 < waited[-1] < end + RATE


@pytest.mark.parametrize(("indices", "gaps"), [((1,), ()), ((0, 1), (Gap(ONE.frame + 9000, 400),))])
def test_no_end_of_a_note_that_was_not_heard_or_not_wholly(indices, gaps):
    ear = ReleaseEar(DUES, RATE, (0, 1), lambda heard: Told(heard, indices))
    hear(ear, played(), gaps)
    assert set(ear.releases) == {1}


def test_only_the_sound_around_the_end_is_kept():
    long = Due(0, 60, RATE, 60 * RATE)
    ear = ReleaseEar((long,), RATE, (0,), Told)
    for at in range(0, 70 * RATE, RATE):
        ear.feed(Chunk(at, RATE, np.zeros(RATE, np.float32)))
    assert sum(len(piece) for _, piece in ear._stretches[0].pieces) == round(2.8 * RATE)


def test_midi_notes_end_where_the_key_is_let_go():
    notes = [
        NoteEvent(ONE.frame - 9000, 60, 80, True),
        NoteEvent(ONE.frame - 5000, 60, 0, False),
        NoteEvent(ONE.frame + 50, 60, 80, True),
        NoteEvent(ONE.frame + 30_000, 60, 0, True),
        NoteEvent(DUES[1].frame, 64, 80, True),
    ]
    ear = ReleaseEar(DUES, RATE, (0, 1), lambda heard: MidiEar())
    for at in range(0, 3 * RATE, BLOCK):
        ear.feed(Chunk(at, BLOCK, notes=tuple(n for n in notes if at <= n.frame < at + BLOCK)))
    ear.finish()
    assert ear.releases == {0: ONE.frame + 30_000}


def test_a_click_at_the_cut_off_is_not_heard_as_the_note():
    """The note stops a quarter of a second before the click that comes where it should."""
    beat = Fraction(1, 2)
    frames = [round(k * beat * RATE) for k in range(10)]
    dues = tuple(Due(d.index, d.pitch, d.frame + 2 * RATE, d.length_frames) for d in DUES)
    sound = np.concatenate([np.zeros(2 * RATE, np.float32), played(-250.0)])
    for frame in frames:
        wave = click_sound("wood", "beat", RATE)
        sound[frame : frame + len(wave)] += 0.1 * wave
    clicks = [Click(frame, "beat") for frame in frames]

    def make(heard):
        return FollowEar(dues, RATE, clicks=clicks, learn_until_frame=2 * RATE, heard=heard)

    ear = ReleaseEar(dues, RATE, (0,), make)
    hear(ear, sound, block=20 * BLOCK)
    assert ms_late(ear.releases[0] - 2 * RATE) == pytest.approx(-250, abs=30)


def test_through_the_ensemble_the_player_alone_is_heard():
    """The ensemble's notes, whose harmonics are the player's too, go on where the note stops."""
    lead = 3 * RATE // 2
    dues = tuple(Due(d.index, d.pitch, d.frame + lead, d.length_frames) for d in DUES)
    half = RATE // 2
    chords = [(48, 55, 52), (53, 57, 60), (55, 59, 62)]
    lines = [
        [PlayedNote(k * half, half - 900, chord[v], -26) for k, chord in enumerate(chords)]
        + [PlayedNote(3 * half, 4 * RATE, (48, 55, 64)[v], -26)]
        for v in range(3)
    ]
    length = lead + 3 * RATE
    out = sum(render(line, RATE, 0, length, seed=v) for v, line in enumerate(lines))

    def sounded(frame, count):
        before = max(0, -frame)
        part = np.concatenate([np.zeros(before, np.float32), out[max(0, frame) :]])[:count]
        return np.pad(part, (0, count - len(part)))

    heard = np.concatenate([np.zeros(200, np.float32), 0.5 * out[:-200]])
    heard[lead:] += played(150.0)[: 3 * RATE]

    def through(listen):
        return ThroughEar(dues, RATE, sounded, heard=listen)

    ear = ReleaseEar(dues, RATE, (0,), through)
    hear(ear, heard, block=20 * BLOCK)
    assert ms_late(ear.releases[0] - lead) == pytest.approx(150, abs=40)
    plain = ReleaseEar(dues, RATE, (0,), lambda listen: FollowEar(dues, RATE, heard=listen))
    hear(plain, heard, block=20 * BLOCK)
    assert plain.releases == {}
