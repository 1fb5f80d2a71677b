"""The whole page: well-formed, nothing from outside, hostile titles, little to show."""

from __future__ import annotations

import re
from dataclasses import replace
from random import Random
from xml.etree import ElementTree as ET

import pytest

from coach.core.planning.facts import DayLoad
from coach.core.profile.profile import profile_of
from coach.core.progress.climb import climb_of
from coach.core.progress.days import DayValue, minutes_of
from coach.core.progress.heard import heard_of
from coach.core.review import review_of
from coach.page.document import NOTHING, POLICY, Content, PassageSection, page
from coach.page.music import MusicLine
from tests.core.findings_making import Player, judged_takes
from tests.core.test_review import TODAY, takes

XHTML = "{http://www.w3.org/1999/xhtml}"
SVG = "{http://www.w3.org/2000/svg}"
EVIL = "</title><script>alert('1')</script> & \"A\" ]]> \x0b <svg onload=x>"


def content(title="Run", rows=None, **changes):
    rows = [*takes(TODAY - 9, 80), *takes(TODAY - 1, 96)] if rows is None else rows
    review = review_of(rows, TODAY, {"run": (title, 120.0)})
    heard = heard_of(judged_takes(Player(planted=lambda k: 0.8 * (k == 5)), 6, Random(1)))
    names = MusicLine("", 180.0, 12.0, {k: 20.0 + 9 * k for k in range(16)})
    passages = [
        PassageSection(climb_of(rows, one, TODAY), heard, (names,)) for one in review.passages
    ]
    made = Content(
        title,
        "double horn",
        review,
        f"{title} is furthest from its goal",
        [f"{title}: late"],
        passages,
        0,
        profile_of([], TODAY),
        minutes_of([DayLoad(row.day, 12) for row in rows], TODAY),
        [DayValue(TODAY, 3, 6, 5, 7)],
        [],
    )
    return replace(made, **changes)


def parsed(text):
    return ET.fromstring(text.removeprefix("<!DOCTYPE html>\n"))


@pytest.mark.parametrize("title", ["Run", EVIL])
def test_it_is_well_formed_and_asks_for_nothing(title):
    text = page(content(title))
    root = parsed(text)
    tags = {element.tag.split("}")[1] for element in root.iter()}
    assert not tags & {"script", "link", "iframe", "object", "embed", "img", "form", "base"}
    ids = [element.get("id") for element in root.iter() if element.get("id")]
    assert len(ids) == len(set(ids))
    for element in root.iter():
        assert not [name for name in element.attrib if name.startswith("on")]
        target = element.get("href", "#")
        assert target[0] == "#"
        assert target == "#" or target[1:] in ids
    assert "url(" not in text
    assert "@import" not in text
    policy = root.find(f".//{XHTML}meta[@http-equiv='Content-Security-Policy']")
    assert policy.get("content") == POLICY


def test_a_title_is_shown_as_it_is():
    root = parsed(page(content(EVIL)))
    headings = ["".join(one.itertext()) for one in root.iter(f"{XHTML}h2")]
    assert headings[0] == EVIL.replace("\x0b", "�")


def test_every_picture_has_its_words():
    pictures = [svg for svg in parsed(page(content())).iter(f"{SVG}svg") if svg.get("role")]
    assert len(pictures) == 4
    for svg in pictures:
        named = svg.get("aria-labelledby").split()
        found = {child.get("id"): child.text for child in svg if child.get("id")}
        assert list(found) == named
        assert all(found.values())


def test_each_question_has_its_answer():
    root = parsed(page(content()))
    for figure in root.iter(f"{XHTML}figure"):
        question = figure.find(f".//{XHTML}h3").text
        answer = figure.find(f".//{XHTML}p[@class='answer']").text
        assert question.endswith("?")
        assert answer.endswith(".")


def test_one_thing_has_one_name():
    text = page(content())
    assert "the ceiling, and where it lies with a chance of 90 %" in text
    assert ">90 % sure<" in text
    assert "Clearly weaker than the rest:" in text


def test_where_little_is_known_it_is_said():
    text = page(content())
    for words in ("Too few notes with both syllables", "Too few moves", "No row of notes"):
        assert words in text
    nothing = content(rows=[], minutes=minutes_of([], TODAY), passages=[])
    assert NOTHING in page(nothing)
    parsed(page(nothing))
    without = content()
    bare = replace(without.passages[0], heard=None, lines=())
    assert "No takes of it are kept" in page(replace(without, passages=[bare]))


def test_more_passages_than_have_pictures_are_told():
    assert "3 more passages were played" in page(content(more=3))


def test_marks_of_the_trouble_are_as_many_as_the_takes_that_went_wrong():
    made = content()
    note = made.passages[0].heard.troubles[0]
    text = page(made)
    line = next(s for s in parsed(text).iter(f"{SVG}svg") if s.get("class") == "line")
    x = 90 + 10 * (20 + 9 * note.index)
    drawn = [s for s in line.iter(f"{SVG}polygon") if s.get("class") == "split"]
    middles = [sum(float(p.split(",")[0]) for p in s.get("points").split()) / 4 for s in drawn]
    split = dict(note.faults)["split"]
    assert sum(abs(middle - x) < 1 for middle in middles) == split
    assert re.search(rf'class="now">{note.index + 1}</text>', text.replace(" ", " "))
