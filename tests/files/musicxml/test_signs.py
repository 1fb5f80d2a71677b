"""Signs that say how to go on, and how fast; lengths of bars."""

from __future__ import annotations

from fractions import Fraction

import pytest

from coach.core.score.model import Score
from tests.files.musicxml.making import attributes, bars, note, read

F = Fraction
BAR = note("C4", 4)
METER = "<time><beats>{}</beats><beat-type>{}</beat-type></time>"


def barline(inside: str, location: str = "right", more: str = "") -> str:
    return f'<barline location="{location}" {more}>{inside}</barline>'


def ending(number: str, kind: str, location: str) -> str:
    return barline(f'<ending number="{number}" type="{kind}"/>', location)


BACK = barline('<repeat direction="backward"/>')


def words(text: str, sound: str = "") -> str:
    heard = f"<sound {sound}/>" if sound else ""
    inside = f"<direction-type><words>{text}</words></direction-type>"
    return f"<direction>{inside}{heard}</direction>"


def sign(name: str, sound: str = "") -> str:
    heard = f"<sound {sound}/>" if sound else ""
    return f"<direction><direction-type><{name}/></direction-type>{heard}</direction>"


def signs(score: Score, name: str) -> list:
    return [getattr(frame.signs, name) for frame in score.frames]


def test_repeats_on_the_far_side_of_a_bar_line():
    forward = barline('<repeat direction="forward"/>', "right")
    backward = barline('<repeat direction="backward" after-jump="yes"/>', "left")
    score = read(bars(BAR + forward, BAR, backward + BAR))
    assert signs(score, "forward") == [False, True, False]
    assert signs(score, "plays") == [0, 2, 0]
    assert signs(score, "after_jump") == [False, True, False]


def test_a_sound_may_begin_a_repeat():
    assert signs(read(bars(BAR, '<sound forward-repeat="yes"/>' + BAR)), "forward") == [False, True]


@pytest.mark.parametrize(
    ("number", "passes"),
    [("1", [1]), ("1,2", [1, 2]), ("1, 2", [1, 2]), ("1-3", [1, 2, 3]), ("2.", [2]), ("", [1])],
)
def test_numbers_of_endings(number, passes):
    score = read(bars(BAR, ending(number, "start", "left") + BAR + ending(number, "stop", "right")))
    assert sorted(score.frames[1].signs.endings) == passes


def test_a_bracket_lasts_over_its_bars():
    one = ending("1", "start", "left")
    two = ending("2", "start", "left")
    closed = read(bars(BAR, one + BAR, BAR + ending("1", "stop", "right") + BACK, BAR))
    assert [sorted(e) for e in signs(closed, "endings")] == [[], [1], [1], []]
    to_the_repeat = read(bars(one + BAR, BAR + BACK, BAR))
    assert [sorted(e) for e in signs(to_the_repeat, "endings")] == [[1], [1], []]
    to_the_next = read(bars(one + BAR, BAR, two + BAR, BAR))
    assert [sorted(e) for e in signs(to_the_next, "endings")] == [[1], [1], [2], []]
    forward = barline('<repeat direction="forward"/>', "left")
    not_closed = read(bars(BAR, one + BAR + BACK, two + BAR, BAR, forward + BAR, BAR + BACK))
    assert [sorted(e) for e in signs(not_closed, "endings")] == [[], [1], [2], [], [], []]


def test_signs_count_from_any_part_and_once():
    silent = bars(BAR, BAR)
    told = bars(barline('<repeat direction="forward"/>', "left") + BAR, BAR + BACK)
    score = read(silent, told, told)
    assert signs(score, "forward") == [True, False]
    assert signs(score, "plays") == [0, 2]


@pytest.mark.parametrize("text", ["D.C. al Fine", "D.C.", "Da Capo", "da capo al coda.", "DC"])
def test_da_capo_in_words(text):
    assert signs(read(bars(BAR, BAR + words(text))), "jump") == ["", "capo"]


@pytest.mark.parametrize("text", ["D.S. al Coda", "D. S.", "dal segno", "Dal Segno al Fine.", "DS"])
def test_dal_segno_in_words(text):
    score = read(bars(BAR, sign("segno") + BAR, BAR + words(text)))
    assert signs(score, "jump") == ["", "", "segno"]
    assert signs(score, "segno") == ["", "segno", ""]
    assert score.frames[2].signs.jump_label == "segno"


@pytest.mark.parametrize("text", ["dolce", "d. cresc", "fine e dolce", "decresc.", "Dscherzando"])
def test_other_words_say_nothing(text):
    frame = read(bars(BAR + words(text))).frames[0]
    assert (frame.signs.jump, frame.signs.fine, frame.signs.to_coda) == ("", False, "")


@pytest.mark.parametrize("text", ["Fine", "[Fine]", "FINE."])
def test_fine_in_words(text):
    assert signs(read(bars(BAR + words(text), BAR)), "fine") == [True, False]


def test_sounds_count_before_words():
    """ "Da Capo" in print, but the sound goes to the segno."""
    score = read(bars(BAR + words("Scherzo da Capo", 'dalsegno="S1"')))
    assert (score.frames[0].signs.jump, score.frames[0].signs.jump_label) == ("segno", "S1")


def test_the_sign_in_dal_segno_is_no_place_to_jump_to():
    jump = (
        "<direction><direction-type><words>D.S.</words></direction-type>"
        "<direction-type><segno/></direction-type></direction>"
    )
    score = read(bars(sign("segno") + BAR, BAR + jump))
    assert signs(score, "segno") == ["segno", ""]
    assert signs(score, "jump") == ["", "segno"]


def test_a_coda_sign_beside_to_coda_is_where_one_leaves():
    leave = words("To Coda") + sign("coda")
    score = read(bars(BAR, BAR + leave, BAR + words("D.C. al Coda"), sign("coda") + BAR))
    assert signs(score, "to_coda") == ["", "coda", "", ""]
    assert signs(score, "coda") == ["", "", "", "coda"]


def test_of_two_bare_coda_signs_the_first_is_where_one_leaves():
    score = read(bars(BAR, BAR + sign("coda"), BAR + words("D.C."), sign("coda") + BAR))
    assert signs(score, "to_coda") == ["", "coda", "", ""]
    assert signs(score, "coda") == ["", "", "", "coda"]


def test_signs_at_the_edges_of_bars_belong_to_the_neighbour():
    """One leaves at the end of the bar before; a segno at the end stands before the next bar."""
    leave = '<sound tocoda="x"/>'
    score = read(bars(BAR, leave + BAR, BAR + sign("segno"), BAR))
    assert signs(score, "to_coda") == ["x", "", "", ""]
    assert signs(score, "segno") == ["", "", "", "segno"]


def test_segno_and_coda_on_bar_lines():
    by_child = barline("<segno/>", "left")
    by_attribute = barline("", "left", 'coda="c2"')
    score = read(bars(BAR, by_child + BAR, by_attribute + BAR, BAR + barline("<segno/>"), BAR))
    assert signs(score, "segno") == ["", "segno", "", "", "segno"]
    assert signs(score, "coda") == ["", "", "c2", "", ""]


def metronome(*units: str, per_minute: str = "") -> str:
    inside = "".join(
        f"<beat-unit>{u.rstrip('.')}</beat-unit>" + "<beat-unit-dot/>" * u.count(".") for u in units
    )
    told = f"<per-minute>{per_minute}</per-minute>" if per_minute else ""
    return f"<direction-type><metronome>{inside}{told}</metronome></direction-type>"


def direction(inside: str) -> str:
    return f"<direction>{inside}</direction>"


@pytest.mark.parametrize(
    ("mark", "bpm"),
    [
        ('<sound tempo="72.5"/>', 72.5),
        (direction(metronome("quarter", per_minute="108")), 108),
        (direction(metronome("quarter.", per_minute="60")), 90),
        (direction(metronome("half", per_minute="ca. 66")), 132),
        (direction(metronome("eighth", per_minute="60-80")), 30),
        (direction(metronome("quarter", per_minute="100") + '<sound tempo="96"/>'), 96),
        (direction(metronome("quarter", per_minute="100")) + '<sound tempo="96"/>', 96),
    ],
)
def test_tempo_marks(mark, bpm):
    assert read(bars(mark + BAR)).frames[0].tempos == ((0, bpm),)


def test_tempos_that_make_no_sense_are_left_out():
    slow = direction(metronome("quarter", per_minute="x"))
    score = read(bars('<sound tempo="0"/>' + '<sound tempo="1e9"/>' + slow + BAR))
    assert score.frames[0].tempos in ((), ((0, 1.0),))
    assert "make no sense" in score.remarks[0]


def test_a_note_value_equal_to_another():
    """Quarter = dotted quarter: what was a quarter is a dotted one now, so quarters are faster."""
    equal = direction(metronome("quarter", "quarter."))
    score = read(bars('<sound tempo="80"/>' + BAR, equal + BAR))
    assert score.frames[1].tempos == ((0, 120.0),)


def test_places_of_tempos():
    offset = direction(
        '<direction-type><words>x</words></direction-type><offset>2</offset><sound tempo="90"/>'
    )
    at_the_end = '<sound tempo="70"/>'
    score = read(bars(offset + BAR + at_the_end, BAR))
    assert [frame.tempos for frame in score.frames] == [((2, 90.0),), ((0, 70.0),)]


def test_a_tempo_of_several_parts_counts_once():
    part = bars('<sound tempo="90"/>' + BAR)
    assert read(part, part).frames[0].tempos == ((0, 90.0),)


def test_lengths_of_bars():
    """The longest part counts; with nothing in it, the meter does; more than the meter is kept."""
    first = bars(note("C4"), note("C4", 3), "", note("C4", 5), first=attributes(METER.format(4, 4)))
    second = bars(note("C4"), note("C4", 2), "", note("C4"))
    assert [frame.length for frame in read(first, second).frames] == [1, 3, 4, 5]


def test_a_meter_that_changes_inside_a_bar_holds_from_the_next_on():
    three = f"<attributes>{METER.format(3, 4)}</attributes>"
    score = read(bars(BAR + three, note("C4", 3), first=attributes(METER.format(4, 4))))
    assert [frame.meter.text for frame in score.frames] == ["4/4", "3/4"]


def test_two_pairs_and_interchangeable():
    pairs = "<beats>3</beats><beat-type>8</beat-type><beats>2</beats><beat-type>4</beat-type>"
    other = "<interchangeable><beats>7</beats><beat-type>8</beat-type></interchangeable>"
    score = read(bars(BAR, first=attributes(f"<time>{pairs}{other}</time>")))
    assert score.frames[0].meter.text == "3+4/8"
