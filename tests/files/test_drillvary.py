"""[[vary]] in drill files, and generated passages written out and read back."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.core.passage import WAYS
from coach.core.variants import STEPS, Step, vary
from coach.errors import FileError
from coach.files.configs import load_instrument
from coach.files.drillfile import read_drill
from coach.files.drillshelf import load_drill
from coach.files.drillwrite import Heading, drill_text, meter_of
from tests.core.variants.making import passages

HORN = load_instrument("double-horn")
HEAD = """
[passage]
notes = ["G4 1/16", "A4 1/16", "B4 1/16", "C5 1/16", "D5 1/4"]
[tempo]
from = 60
to = 90
"""


def drill(tmp_path, more):
    path = tmp_path / "mine.toml"
    path.write_text(HEAD + more)
    return read_drill(path)[0]


def test_steps_are_applied_in_the_order_of_the_file(tmp_path):
    made = drill(
        tmp_path, '[[vary]]\nmake = "bursts"\nsizes = [2, 3]\n[[vary]]\nmake = "air-first"\n'
    )
    assert [(p.title, p.way) for p in made.variants] == [
        ("Bursts of 2: air", "air"),
        ("Bursts of 2", "played"),
        ("Bursts of 3: air", "air"),
        ("Bursts of 3", "played"),
    ]


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ('[[vary]]\nmake = "loops"\n', "vary.make"),
        ('[[vary]]\nmake = "bursts"\nsizes = "many"\n', "vary.sizes"),
        ('[[vary]]\nmake = "bursts"\nsize = [2]\n', "vary.size"),
        ('[[vary]]\nmake = "rhythms"\ngroup = 9\n', "groups of 2, 3 or 4"),
        ("[[vary]]\nsizes = [2]\n", "vary.make is missing"),
        ("vary = 3\n", "vary"),
        (
            '[[vary]]\nmake = "keys"\n[[vary]]\nmake = "keys"\n[[vary]]\nmake = "keys"\n'
            '[[vary]]\nmake = "keys"\n',
            "keys makes over 200 variants",
        ),
    ],
)
def test_a_mistake_is_one_sentence_naming_it(tmp_path, more, says):
    path = tmp_path / "mine.toml"
    path.write_text(more + HEAD if more.startswith("vary") else HEAD + more)
    with pytest.raises(FileError) as caught:
        read_drill(path)
    assert says in str(caught.value)
    assert str(path) in str(caught.value)


def test_steps_that_multiply_are_stopped_early(tmp_path):
    """Sixty times five keys would be more passages than there are atoms; bursts double the notes,
    rhythms the bars."""
    with pytest.raises(FileError, match="over 200 variants"):
        drill(tmp_path, '[[vary]]\nmake = "keys"\n' * 60)
    with pytest.raises(FileError, match="2000 fit in one take"):
        drill(tmp_path, '[[vary]]\nmake = "bursts"\nsizes = [2]\n' * 60)
    long = HEAD.replace('"D5 1/4"', "".join('"rest 8/1", "C5 1/4", "D5 1/4", ' for _ in range(45)))
    path = tmp_path / "long.toml"
    path.write_text(long + '[[vary]]\nmake = "bursts"\nsizes = [2]\n')
    read_drill(path)
    path.write_text(long + '[[vary]]\nmake = "rhythms"\n')
    with pytest.raises(FileError, match=r"vary makes .* bars; at most 2000 notes and 400 bars"):
        read_drill(path)


def test_shipped_drills_with_steps_load():
    for name, count in (("back-syllable-ladder", 12), ("long-note-walks", 9), ("air-then-horn", 8)):
        assert len(load_drill(name)[0].variants) == count


KEYS = {0: "C", -1: "F", -5: "Db", 5: "B", -4: "Ab", 4: "E", 1: "G", 2: "D", -2: "Bb", -6: "Gb"}


@given(
    passages(lowest=50, highest=75),
    st.sampled_from(sorted(STEPS)),
    st.integers(0, 99),
    st.sampled_from(WAYS),
    st.sampled_from([0.5, 0.35, 1.0]),
)
def test_what_was_made_is_read_back_from_its_file(
    tmp_path_factory, passage, name, which, way, share
):
    made = vary([passage], [Step(name)], lowest=HORN.lowest, highest=HORN.highest)
    variant = replace(made[which % len(made)], title="", way=way, tempo_share=share)
    sheet = Heading("Mine", "", meter_of(variant), KEYS[variant.fifths], 60, 90)
    path = tmp_path_factory.mktemp("drills") / "mine.toml"
    path.write_text(drill_text(variant, HORN, sheet), "utf-8")
    assert read_drill(path)[0].variants == (variant,)
