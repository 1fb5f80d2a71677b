"""The texts of `coach help`: all can be read, and what they say of figures is what holds."""

from __future__ import annotations

from collections import Counter

import pytest

from coach.core.take import VERDICTS
from coach.core.topics import GROUPS, laid_out, plain
from coach.errors import FileError
from coach.files.configs import load_rules
from coach.files.topics import find_topic, load_topics, read_topic, topic_names

TOPICS = load_topics()
# Of forms of files and of all commands for sharing there is more to say.
LONG = {"drill-file", "drill-kinds", "vary"}
ASKED = {
    *("gate", "deviation", "split", "lag", "unsure", "offset", "evenness", "syllable", "partial"),
    *("side", "ceiling", "section", "muffled", "verdict", "rules", "pace", "take", "care"),
}


def text(name: str) -> str:
    return next(topic.text for topic in TOPICS if topic.name == name)


def test_there_is_a_topic_for_each_idea_in_every_group():
    assert set(topic_names()) >= ASKED
    assert {topic.group for topic in TOPICS} == set(GROUPS)


def test_every_word_leads_to_one_topic():
    words = Counter(plain(word) for topic in TOPICS for word in (topic.name, *topic.also))
    assert [word for word, count in words.items() if count > 1] == []


def test_what_is_to_be_seen_too_is_there():
    names = set(topic_names())
    assert [(t.name, word) for t in TOPICS for word in t.see if word not in names] == []


@pytest.mark.parametrize("topic", TOPICS, ids=lambda topic: topic.name)
def test_texts_are_short_and_fit(topic):
    rows = laid_out(topic, 76)
    assert max(map(len, rows)) <= 80
    assert 8 <= len(rows) <= (45 if topic.name in LONG else 36)
    assert all(len(row) <= 40 or row.startswith("    ") for row in laid_out(topic, 40))
    assert "{" not in topic.text.replace('{"notes": [{', "").replace("}]}", "")


def test_figures_are_those_of_the_rules():
    normal, strict = load_rules("normal"), load_rules("strict")
    assert f"within {normal.tolerance_ms:g} ms or 20 %" in text("deviation")
    assert f"up to {normal.offset_limit_ms:g} ms is taken off" in text("offset")
    assert f"- strict: {strict.tolerance_ms:g} ms or 15 %; {strict.split_ms:g} ms" in text("rules")
    assert f"only after {normal.split_ms:g} ms or more on another partial" in text("split")
    assert f"did not speak: {normal.muffled_db:g} dB or more under" in text("muffled")
    assert f"less than {normal.unsure_below:g} (1 is certain)" in text("unsure")
    assert "only when enough notes were clean: 90 % by default" in text("gate")


def test_other_figures_come_from_configs_and_core():
    assert "fixed steps, 4 % up, and back after 2 failures" in text("pace")
    assert "slows to 70 % of the tempo (poco 85 %, molto 50 %)" in text("rit")
    assert "front (ta, da, tu, du, ti, di)" in text("syllable")


def test_every_verdict_is_explained():
    listed = [line[2:].split(":")[0] for line in text("verdict").split("\n") if line[:2] == "- "]
    assert sorted(word for words in listed for word in words.split(", ")) == sorted(VERDICTS)


def test_lips_hands_and_ears_come_with_cautions():
    assert "a teacher and a medical professional" in " ".join(text("care").split())
    assert "never shows dBA" in text("care")
    for name in ("warmup", "load"):
        assert "doctor" in text(name)
    assert find_topic("headphones") == find_topic("care")


def test_a_word_that_is_not_explained():
    assert find_topic("fugue") is None


@pytest.mark.parametrize(
    ("was", "now", "told"),
    [
        ("{rules.normal.split_ms}", "{rules.normal.spilt_ms}", "no figure {rules.normal.spilt_ms}"),
        ("{rules.normal.split_ms}", "{rools.x}", "no figure {rools.x}"),
        ("{rules.normal.split_ms}", "{core.gate.Gate.steps}", "no figure {core.gate.Gate.steps}"),
        ("{rules.normal.split_ms}", "{core.nothing.X}", "no figure {core.nothing.X}"),
        ('group = "tempo"', 'group = "x"', 'group is "x"; it must be one of begin'),
        ('title = "T"', 'title = "T"\nsea = ["gate"]', "unknown key sea"),
    ],
)
def test_a_topic_with_a_mistake(tmp_path, was, now, told):
    path = tmp_path / "mine.toml"
    good = 'title = "T"\ngroup = "tempo"\ntext = "{rules.normal.split_ms} ms"\n'
    path.write_text(good)
    assert read_topic(path).text == "20 ms"
    path.write_text(good.replace(was, now))
    with pytest.raises(FileError) as error:
        read_topic(path)
    assert told in str(error.value)
