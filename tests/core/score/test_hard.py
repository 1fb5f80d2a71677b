"""The hard places of a part."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.core.score.hard import hard_places
from coach.core.score.hardbars import hard_bars
from coach.core.score.hardness import TERMS, Hardness, hard_notes
from coach.core.score.line import Line
from coach.errors import FileError
from coach.files.configs import data_folder, load_instrument
from coach.files.fingering import load_weights
from coach.files.hard import load_hardness, read_hardness
from coach.files.tonguing import load_tonguing
from tests.core.score.linemaking import even, line

HORN = load_instrument("double-horn")
TRUMPET = load_instrument("trumpet")
WEIGHTS = load_weights()
FIGURES = load_hardness()
CONFIG = data_folder("configs") / "hard.toml"

SIXTEENTH, EIGHTH = Fraction(1, 4), Fraction(1, 2)
EASY = even([67, 65, 64, 65], 1)
REST = even([None], 4)
RUN = [60, 62, 64, 65, 67, 65, 64, 62] * 2


def places(part: Line, instrument=HORN, figures: Hardness = FIGURES, most: int = 5):
    return hard_places(part, instrument, WEIGHTS, figures, most)


def scores(part: Line, instrument=HORN) -> list[float]:
    notes = hard_notes(part, instrument, WEIGHTS, FIGURES)
    return [bar.score for bar in hard_bars(part, notes, FIGURES)]


def alone(term: str) -> Hardness:
    """The figures with one term left."""
    off = dict.fromkeys(("rate", "fingers", "leaps", "partial", "high", "low", "tongue"), 0.0)
    kept = ("leaps", "partial") if term == "leaps" else (term,)
    return replace(FIGURES, **(off | {name: getattr(FIGURES, name) for name in kept}), least=0.01)


def planted(hard, base=EASY) -> Line:
    """Bar 5 of eight is the hard one."""
    return line(*[base] * 4, hard, *[base] * 3, transposition=-2, part="Trumpet")


# On the trumpet: C4 to E4 and back is 0 to 1+2, no valve passes another; D4 (1+3) to E-flat4 (2+3)
# is an exchange each time (Yamaha trumpet fingering chart).
@pytest.mark.parametrize(
    ("name", "base", "hard", "words"),
    [
        ("rate", EASY, even(RUN, SIXTEENTH, slurred=True), "8.0 notes a second"),
        (
            "fingers",
            even([60, 64] * 8, SIXTEENTH, slurred=True),
            even([62, 63] * 8, SIXTEENTH, slurred=True),
            "exchanges of fingers",
        ),
        (
            "leaps",
            even([67, 72] * 8, SIXTEENTH, slurred=True),
            even([60, 72] * 8, SIXTEENTH, slurred=True),
            "16 leaps, the widest C5-C4",
        ),
        ("high", even([67] * 8, EIGHTH), even([82] * 8, EIGHTH), "up to A#5"),
        (
            "tongue",
            even(RUN, SIXTEENTH, slurred=True),
            even(RUN, SIXTEENTH),
            "tongued",
        ),
    ],
)
def test_a_hard_bar_among_easy_ones_comes_first(name, base, hard, words):
    # Whole figures: it is the first of all; this term alone: it is the first by this one too.
    for figures in (FIGURES, alone(name)):
        found = places(planted(hard, base), TRUMPET, replace(figures, most_bars=1))
        assert found[0].bars == "5", (name, found)
        assert any(words in reason for reason in found[0].why), (name, found[0].why)


def test_low_notes_count_at_speed_only():
    low, middle = even([42, 43] * 8, SIXTEENTH), even([66, 67] * 8, SIXTEENTH)
    part = line(middle, REST, low, REST, even([42, 43], 2))
    found = places(part, figures=alone("low"))
    assert [place.bars for place in found] == ["3"]
    assert found[0].why[-1] == "down to F#2"


def test_an_easy_part_has_no_hard_places():
    assert places(line(*[EASY] * 12)) == ()
    assert places(line(REST)) == ()


def test_exchanges_are_those_of_the_chart():
    """D4 and E-flat4 on a trumpet are 1+3 and 2+3 (Yamaha chart): every move exchanges 1 and 2."""
    part = line(even([62, 63] * 8, SIXTEENTH, slurred=True), transposition=-2)
    (place,) = places(part, TRUMPET)
    assert place.exchanges == 15


def test_a_slide_has_ways_and_no_exchanges():
    trombone = load_instrument("trombone")
    # Sounding B-flat3 and E3 on the trombone lie in the first and in a far position.
    part = line(even([58, 52] * 8, SIXTEENTH), transposition=0, part="Trombone")
    (place,) = places(part, trombone)
    assert place.exchanges == 0
    assert "long ways of the slide" in place.why


def test_tonguing_is_hard_from_the_limit_of_single_tonguing_on():
    """Students single-tongue 8.0 notes a second (206 players, DAGA 2021)."""
    assert FIGURES.single_limit_hz == load_tonguing().style.single_limit_hz == 8.0
    for bpm, words in ((118.0, "tongued"), (130.0, "too fast to single-tongue")):
        (place,) = places(line(even(RUN, SIXTEENTH), tempos=((0, bpm),)), figures=alone("tongue"))
        assert place.why[-1] == words


def test_two_quick_notes_do_not_tire_the_tongue():
    quick = [(67, 1, False), (67, SIXTEENTH, False), (67, SIXTEENTH, False), (67, EIGHTH, False)]
    figures = alone("tongue")
    assert places(line([*quick[:2], (67, 1, False)], tempos=((0, 140.0),)), figures=figures) == ()
    assert places(line(quick, tempos=((0, 140.0),)), figures=figures) != ()


def test_a_run_over_the_bar_line_is_one_place():
    before = [(60, 2, False), (None, 1, False), *even([60, 62, 64, 65], SIXTEENTH)]
    after = even([67, 69, 71, 72, 74, 72, 71, 69, 67, 65, 64, 62], SIXTEENTH)
    (place, *_) = places(line(EASY, before, after, EASY, tempos=((0, 140.0),)))
    assert place.bars == "2-3"
    # With a rest at the bar line the run begins in its own bar.
    parted = [(60, 2, False), *even([60, 62, 64, 65], SIXTEENTH), (None, 1, False)]
    (place, *_) = places(line(EASY, parted, after, EASY, tempos=((0, 140.0),)))
    assert place.bars == "3"


def test_no_place_is_longer_than_its_limit_and_none_shares_a_bar():
    found = places(line(*[even([p + k for p in RUN], SIXTEENTH) for k in range(10)]), most=9)
    seen: list[int] = []
    for place in found:
        bars = range(int(place.first), int(place.last) + 1)
        assert len(bars) <= FIGURES.most_bars == 4
        seen += bars
    assert sorted(seen) == list(range(1, 11))
    assert [p.score for p in found] == sorted((p.score for p in found), reverse=True)


def test_the_same_music_is_offered_once():
    hard, other = even(RUN, SIXTEENTH), even([p + 5 for p in RUN], SIXTEENTH)
    found = places(line(hard, REST, hard, REST, other, REST, hard))
    assert sorted((place.bars, place.also) for place in found) == [("1", ("3", "7")), ("5", ())]


def test_two_bars_that_come_again_together_are_named_together():
    one, two = even(RUN, SIXTEENTH), even([p + 2 for p in RUN], SIXTEENTH)
    (place,) = places(line(one, two, REST, one, two, REST))
    assert (place.bars, place.also) == ("1-2", ("4-5",))


def test_a_repeat_is_offered_by_its_printed_bars():
    part = line(even(RUN, SIXTEENTH), REST, even(RUN, SIXTEENTH), REST, indexes=(0, 1, 0, 1))
    (place,) = places(part)
    assert (place.bars, place.also, place.notes) == ("1", (), 16)


def test_notes_beyond_the_instrument_are_passed_over():
    """A part for another instrument: no fingering, no error."""
    part = line(even([110, 60] * 8, SIXTEENTH))
    (place,) = places(part)
    assert place.terms["rate"] > 0


def test_the_json_has_every_term():
    (place,) = places(line(even(RUN, SIXTEENTH)))
    told = place.to_dict()
    assert tuple(told["terms"]) == TERMS
    assert told["score"] == pytest.approx(sum(told["terms"].values()), abs=0.01)
    assert (told["bars"], told["notes"], told["notes_a_second"]) == ("1", 16, 8.0)
    assert told["why"][0] == "8.0 notes a second"


BARS = st.lists(
    st.tuples(
        st.lists(st.integers(46, 80), min_size=1, max_size=16),
        st.sampled_from([SIXTEENTH, Fraction(1, 3), EIGHTH, Fraction(1, 8)]),
        st.booleans(),
    ),
    min_size=1,
    max_size=6,
)


def made(bars) -> list:
    return [even(pitches[: int(4 / length)], length, slurred) for pitches, length, slurred in bars]


@settings(max_examples=40)
@given(BARS, st.floats(40, 160), st.floats(1, 2))
def test_a_faster_tempo_makes_no_bar_easier(bars, bpm, faster):
    slow = scores(line(*made(bars), tempos=((0, bpm),)))
    fast = scores(line(*made(bars), tempos=((0, bpm * faster),)))
    assert all(after >= before - 1e-6 for before, after in zip(slow, fast, strict=True))


@settings(max_examples=40)
@given(BARS, st.lists(st.integers(0, 6), max_size=4))
def test_more_bars_of_rest_change_no_ranking(bars, where):
    """Bars that are parted by a bar of rest already."""
    music = [bar for one in made(bars) for bar in (one, REST)]
    order = [k for k in range(len(music)) if music[k] is not REST]
    longer = list(music)
    for place in sorted(where, reverse=True):
        longer.insert(min(2 * place, len(longer)), REST)
    kept = [k for k in range(len(longer)) if longer[k] is not REST]
    names = {str(after + 1): str(before + 1) for before, after in zip(order, kept, strict=True)}
    plain = [(place.bars, place.score) for place in places(line(*music), most=9)]
    rested = [(names[place.bars], place.score) for place in places(line(*longer), most=9)]
    assert [bar for bar, _ in rested] == [bar for bar, _ in plain]
    assert [score for _, score in rested] == pytest.approx([score for _, score in plain], abs=1e-3)


def test_the_file_gives_every_figure_as_the_core_has_it():
    assert load_hardness() == Hardness()


def test_every_figure_has_its_reason():
    lines = CONFIG.read_text(encoding="utf-8").splitlines()
    figures = [row for row in lines if "=" in row and not row.startswith("#")]
    assert len(figures) == 17
    assert all("#" in row for row in figures)


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("free_hz = 4.0", "free_hz = 40", "rate.free_hz is 40"),
        ("full_hz = 12.0", "full_hz = 3", "rate.full_hz is 3"),
        ("most_bars = 4", "most_bars = 0", "a whole number from 1 to 16"),
        ("near_share = 0.8", "", "tongue.near_share is missing"),
        ("partial = 0.1", "partial = 0.1\npartials = 2", "unknown key leaps.partials"),
    ],
)
def test_a_wrong_figure_is_named(tmp_path, old, new, message):
    path = tmp_path / "hard.toml"
    path.write_text(CONFIG.read_text(encoding="utf-8").replace(old, new), encoding="utf-8")
    with pytest.raises(FileError) as caught:
        read_hardness(path, 8.0)
    assert message in str(caught.value)
