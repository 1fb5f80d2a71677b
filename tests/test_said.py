"""What the README, the texts of `coach help` and the errors tell to type can be typed; and every
error says what to do next."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from itertools import groupby
from pathlib import Path

import pytest

from coach.cli import commands, whole_parser
from coach.cli.parsing import commands_of, options_of
from coach.files.drillshelf import load_drill
from coach.files.topics import load_topics

ROOT = Path(__file__).parent.parent
# Where a line to be typed may stand: between backticks, or by itself.
QUOTED = re.compile(r"`(coach [^`]+)`")
ALONE = re.compile(r"^(?: {4}|\$ )?(coach [^\n`]+)$", re.MULTILINE)
# In the code also behind a colon, or at the start of a hint.
TOLD = re.compile(r"(?:: |; |^)(coach [a-z]+(?: [^;]*)?)")
# Of core/expected.py, a form that programs write, `coach assess` has the hint.
ERRORS = ("CoachError", "FileError", "DeviceError", "DeviceAwayError")
OPTION = re.compile(r"(?<![\w-])--[a-z][a-z-]*")
PARSER = whole_parser()


def lines_of(text: str) -> set[str]:
    return {*QUOTED.findall(text), *ALONE.findall(text)}


def wrong_in(line: str) -> list[str]:
    """What of it can't be typed: the command, or options that it does not take."""
    line = line.split(" && ")[0].split("#")[0]
    word = line.split()[1]
    if word.isupper() or word.startswith(("-", "{")) or not word[0].isalpha():
        return []
    if word not in commands():
        return [word]
    return sorted(set(OPTION.findall(line)) - set(options_of(PARSER, word)))


def strings() -> Iterator[tuple[Path, str]]:
    """Every text in the code but docstrings."""
    for path in sorted((ROOT / "coach").rglob("*.py")):
        source = path.read_text(encoding="utf-8")
        if "coach " not in source:
            continue
        tree = ast.parse(source)
        told = {id(n.value) for n in ast.walk(tree) if isinstance(n, ast.Expr)}
        for node in ast.walk(tree):
            if isinstance(node, ast.JoinedStr):
                parts = (p.value if isinstance(p, ast.Constant) else "X" for p in node.values)
                yield path, "".join(map(str, parts))
            elif isinstance(getattr(node, "value", None), str) and id(node) not in told:
                yield path, node.value


def test_what_the_readme_tells_to_type_is_there():
    found = lines_of((ROOT / "README.md").read_text(encoding="utf-8"))
    assert len(found) > 20
    assert {line: wrong for line in found if (wrong := wrong_in(line))} == {}


@pytest.mark.parametrize("topic", load_topics(), ids=lambda topic: topic.name)
def test_what_a_topic_tells_to_type_is_there(topic):
    found = lines_of(topic.text)
    assert {line: wrong for line in found if (wrong := wrong_in(line))} == {}


def test_options_that_a_topic_names_are_some_commands():
    known = {option for name in commands_of(PARSER) for option in options_of(PARSER, name)}
    for topic in load_topics():
        # Those of other programs stand between backticks.
        text = re.sub(r"`python -m [^`]*`", "", topic.text)
        assert set(OPTION.findall(text)) <= known, topic.name


def test_what_errors_and_screens_tell_to_type_is_there():
    texts = [(path, text) for path, text in strings() if "coach " in text]
    found = [(path, line) for path, text in texts for line in TOLD.findall(text)]
    found += [(path, line) for path, text in texts for line in QUOTED.findall(text)]
    assert len(found) > 30
    wrong = {(path.name, line): wrong_in(line) for path, line in found}
    assert {where: what for where, what in wrong.items() if what} == {}


def test_every_error_says_what_to_do_next():
    """`CoachError(what, where, hint)`: the hint may not be left out."""
    bare = []
    for path in sorted((ROOT / "coach").rglob("*.py")):
        source = path.read_text(encoding="utf-8")
        if "Error(" not in source or path == ROOT / "coach" / "core" / "expected.py":
            continue
        for node in ast.walk(ast.parse(source)):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") in ERRORS:
                given = [*node.args[2:3], *(k.value for k in node.keywords if k.arg == "hint")]
                told = given and ast.unparse(given[0]) != "''"
                if not told and ast.unparse(node.args[0]) != "''":
                    bare.append(f"{path.name}: {ast.unparse(node)}")
    assert bare == []


def test_drills_that_are_shown_can_be_played(tmp_path):
    """The README's whole, and those in the help, completed where they are parts."""
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    shown = re.findall(r"```toml\n(.*?)```", readme, re.DOTALL)
    whole, written = _typed("drill-file")
    assert len(shown) == 1
    tempo = "[tempo]\nfrom = 60\nto = 90\n"
    (vary,) = _typed("vary")
    notes = f"{written}\n{tempo}"
    for number, text in enumerate((*shown, whole, notes, f"{notes}{vary}")):
        path = tmp_path / f"shown-{number}.toml"
        path.write_text(text, encoding="utf-8")
        drill, _ = load_drill(path)
        assert drill.variants


def _typed(topic: str) -> list[str]:
    """What stands set in there, piece by piece."""
    text = next(one.text for one in load_topics() if one.name == topic)
    return [
        "\n".join(line.removeprefix("    ") for line in lines)
        for typed, group in groupby(text.split("\n"), lambda line: line.startswith("    "))
        if typed and (lines := list(group))
    ]
