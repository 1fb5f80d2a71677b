"""Somebody else's record never comes to who plays, unless that was asked for by name."""

from __future__ import annotations

from dataclasses import dataclass

import pytest

from coach.core.share.whose import Whose, whose
from coach.errors import CoachError


@dataclass(frozen=True)
class One:
    name: str
    uid: str


IDA, BO, NOBODY = One("Ida", "1"), One("Bo", "2"), One("player", "3")


def test_a_player_is_known_by_uid_whatever_the_name():
    assert whose("Ida", "1", [IDA, BO]) == Whose("Ida", "1")
    assert whose("Ida B.", "1", [IDA, BO]) == Whose("Ida", "1")
    assert whose("Bo", "1", [IDA, BO]) == Whose("Ida", "1")


def test_who_is_not_known_is_new():
    assert whose("Cy", "9", [IDA, BO]) == Whose("Cy", "9", new=True)
    assert whose("Cy", "9", [IDA], called="C.") == Whose("C.", "9", new=True)


def test_another_of_the_same_name_needs_another():
    with pytest.raises(CoachError, match='another player "Ida" here; --as NAME'):
        whose("Ida", "9", [IDA])
    assert whose("Ida", "9", [IDA], called="Ida C.") == Whose("Ida C.", "9", new=True)
    with pytest.raises(CoachError, match='another player "Bo"'):
        whose("Ida", "9", [IDA, BO], called="Bo")


def test_who_is_there_already_gets_no_second_name():
    with pytest.raises(CoachError, match='"Ida" here already'):
        whose("Ida", "1", [IDA], called="Cy")
    assert whose("Ida", "1", [IDA], called="Ida") == Whose("Ida", "1")


def test_asked_for_by_name():
    assert whose("Ida", "9", [IDA, BO], into="Bo") == Whose("Bo", "2")
    with pytest.raises(CoachError, match='no player "Cy"'):
        whose("Ida", "9", [IDA, BO], into="Cy")


def test_a_nameless_record_goes_on_in_a_fresh_book():
    assert whose("player", "9", [NOBODY], nameless=NOBODY) == Whose("player", "9", takes_over=True)
    with pytest.raises(CoachError, match='another player "player"'):
        whose("player", "9", [NOBODY])
    # Somebody with a name is somebody else.
    assert whose("Ida", "9", [NOBODY], nameless=NOBODY) == Whose("Ida", "9", new=True)
    taken = whose("player", "9", [NOBODY], nameless=NOBODY, called="Ida")
    assert taken == Whose("Ida", "9", new=True)
