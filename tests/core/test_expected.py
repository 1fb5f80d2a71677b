"""The expected notes of a recording: whatever stands there instead is one sentence."""

from __future__ import annotations

import pytest

from coach.core.expected import LONGEST_S, Expected
from coach.errors import CoachError

NOTE = {"onset_s": 0.5, "duration_s": 0.12, "midi": 60}


def test_what_may_be_absent():
    expected = Expected.from_dict({"notes": [{**NOTE, "slurred": 1, "syllable": None}]})
    assert expected.notes[0].slurred is True
    assert (expected.instrument, expected.anchor, expected.clicks_s) == ("double-horn", "grid", ())
    assert Expected.from_dict({"notes": [NOTE], "clicks_s": [-1, 0.5]}).clicks_s == (-1.0, 0.5)


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"onset_s": 10**400}, "onset_s 1000.* is out of range"),
        ({"onset_s": 1e308}, "onset_s 1e.308 is out of range"),
        ({"onset_s": float("nan")}, "onset_s nan is not a number"),
        ({"duration_s": float("inf")}, "duration_s inf is out of range"),
        ({"duration_s": LONGEST_S + 1}, "duration_s .*no more than 86,400 are allowed"),
        ({"midi": 10**400}, "midi .* is out of range"),
        ({"midi": True}, "midi True is not a number"),
        ({"syllable": ["ta"]}, "syllable .* is not text"),
        ({"syllable": 5}, "syllable 5 is not text"),
        ({"fingering": {}}, "fingering .* is not text"),
        ({"slurred": "false"}, "slurred 'false' is neither true nor false"),
    ],
)
def test_a_note_that_is_none(changes, said):
    with pytest.raises(CoachError, match=f"expected note 0: {said}"):
        Expected.from_dict({"notes": [{**NOTE, **changes}]})


@pytest.mark.parametrize("clicks", [5, "0.5", {"a": 1}, [None], [float("nan")], [10**400]])
def test_clicks_that_are_none(clicks):
    with pytest.raises(CoachError, match="clicks_s"):
        Expected.from_dict({"notes": [NOTE], "clicks_s": clicks})


def test_a_long_value_is_shortened():
    with pytest.raises(CoachError) as caught:
        Expected.from_dict({"notes": [["x" * 10_000]]})
    assert len(str(caught.value)) < 200
