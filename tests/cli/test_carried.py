"""Planned fingerings and syllables in the drill that is played."""

from __future__ import annotations

import argparse

import pytest

from coach.cli.carried import carried
from coach.errors import CoachError
from coach.files.drillshelf import load_drill


def _asked(*, fingering: int | None = None, tonguing: bool = False) -> argparse.Namespace:
    return argparse.Namespace(fingering=fingering, tonguing=tonguing)


def test_nothing_is_carried_unless_asked_for():
    drill, instrument = load_drill("turns")
    assert carried(drill, instrument, _asked()) == drill


def test_both_reach_every_note_of_every_variant():
    drill, instrument = load_drill("turns")
    made = carried(drill, instrument, _asked(fingering=1, tonguing=True))
    assert len(made.variants) == len(drill.variants)
    for passage in made.variants:
        assert all(note.fingering for note in passage.notes)
        assert all((note.syllable is None) == note.slurred for note in passage.notes)


def test_what_the_file_says_is_kept(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_text(
        'title = "mine"\nabout = "x"\nonly_for = ["double-horn"]\n[passage]\n'
        'notes = ["C4 1/8 T0", "D4 1/8", "E4 1/8 ka", "F4 1/8"]\n[tempo]\nfrom = 60\nto = 90\n',
        encoding="utf-8",
    )
    drill, instrument = load_drill(path)
    made = carried(drill, instrument, _asked(fingering=1, tonguing=True)).variants[0].notes
    assert made[0].fingering == "T0"
    assert made[2].syllable == "ka"


def test_a_note_without_fingering_is_one_sentence():
    drill, instrument = load_drill("turns", instrument="natural-horn")
    with pytest.raises(CoachError, match="has no fingering on the natural horn"):
        carried(drill, instrument, _asked(fingering=1))


def test_the_second_plan_is_another_one():
    drill, instrument = load_drill("fourth-higher")
    first, second = (carried(drill, instrument, _asked(fingering=k)) for k in (1, 2))
    pairs = zip(first.variants[0].notes, second.variants[0].notes, strict=True)
    assert sum(a.fingering != b.fingering for a, b in pairs) >= 2


def test_no_plan_of_that_number():
    drill, instrument = load_drill("turns")
    with pytest.raises(CoachError, match="--fingering 0 is no plan"):
        carried(drill, instrument, _asked(fingering=0))
