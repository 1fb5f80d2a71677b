"""Recordings and note lists as ports."""

from __future__ import annotations

import itertools

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from coach.core.take import NoteEvent
from coach.ports.replay import ReplayNotes, ReplayPort


def read_all(port):
    chunks = []
    while not port.ended:
        chunks.append(port.read())
    return chunks


@given(st.integers(1, 5000), st.integers(1, 700))
def test_every_sample_comes_once_in_blocks_of_any_size(length, block):
    samples = np.arange(length, dtype=np.float32)
    chunks = read_all(ReplayPort(samples, 44_100, block))
    assert np.array_equal(np.concatenate([c.samples for c in chunks]), samples)
    assert chunks[0].frame == 0
    assert all(len(c.samples) == c.length_frames for c in chunks)
    assert all(b.frame == a.end_frame for a, b in itertools.pairwise(chunks))


def test_the_earliest_frame_is_the_next_unread_one():
    port = ReplayPort(np.zeros(1000, np.float32), 48_000, 300)
    assert port.earliest_frame() == 0
    port.read()
    assert port.earliest_frame() == port.position() == 300


def test_a_recording_that_ran_out_goes_on_empty():
    port = ReplayPort(np.zeros(10, np.float32), 48_000)
    port.read()
    assert port.ended
    assert port.read().length_frames == 0


@given(st.lists(st.integers(0, 4000)), st.integers(1, 900))
def test_every_note_comes_once_in_its_block(frames, block):
    notes = [NoteEvent(frame, 60, 90, on=True) for frame in frames]
    chunks = read_all(ReplayNotes(notes, 1000, block_frames=block))
    assert [n.frame for c in chunks for n in c.notes] == sorted(frames)
    assert all(c.frame <= n.frame < c.end_frame for c in chunks for n in c.notes)
    assert all(c.samples is None for c in chunks)
