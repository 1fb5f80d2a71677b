"""What DEVELOPERS.md names is there: files, rooms, classes and their methods, commands."""

from __future__ import annotations

import ast
import re
from pathlib import Path

ROOT = Path(__file__).parent.parent
TEXT = (ROOT / "DEVELOPERS.md").read_text("utf-8")
NAMED = sorted(set(re.findall(r"`([^`\n]+)`", TEXT)))
# Beside the checkout, or made when it is used.
ELSEWHERE = {"book/N.sql", ".ci/run"}
FILE = re.compile(r"[\w./-]+(/|\.(py|toml|md|sql|json)|/[\w.]+)")
METHOD = re.compile(r"([A-Z]\w+)\.(\w+)")
# A name with its file behind it: `verdict_of` (`core/verdicts.py`).
PLACED = re.compile(r"`(\w+)(?:\.\w+)?`(?: \(|, )`([\w/]+\.py)`")


def is_there(name: str) -> bool:
    """A path from the root or from coach/, with or without .py; or a bare name of a module."""
    places = [ROOT / name, ROOT / "coach" / name]
    if any(place.exists() or place.with_name(f"{place.name}.py").exists() for place in places):
        return True
    # A name behind a module: core/course.Course.
    module, _, attribute = name.rpartition(".")
    owner = ROOT / "coach" / f"{module}.py"
    if module and owner.exists():
        return re.search(rf"^(class|def) {attribute}\b|^{attribute}\b", owner.read_text(), re.M)
    return "/" not in name and any((ROOT / "coach").rglob(name))


def members() -> dict[str, set[str]]:
    """Of every class in coach/ the names in its body."""
    found: dict[str, set[str]] = {}
    bases: dict[str, set[str]] = {}
    for path in (ROOT / "coach").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.ClassDef):
                body = {part.name for part in node.body if isinstance(part, ast.FunctionDef)}
                body |= {
                    part.target.id
                    for part in node.body
                    if isinstance(part, ast.AnnAssign) and isinstance(part.target, ast.Name)
                }
                found.setdefault(node.name, set()).update(body)
                named = {base.id for base in node.bases if isinstance(base, ast.Name)}
                bases.setdefault(node.name, set()).update(named)
    return {
        name: body.union(*(found.get(base, set()) for base in bases[name]))
        for name, body in found.items()
    }


def test_files_and_rooms_exist():
    paths = [name for name in NAMED if FILE.fullmatch(name) and name not in ELSEWHERE]
    assert len(paths) > 100
    assert [name for name in paths if not is_there(name)] == []


def test_classes_and_methods_exist():
    known = members()
    named = [found.groups() for name in NAMED if (found := METHOD.fullmatch(name))]
    assert len(named) > 20
    assert [pair for pair in named if pair[1] not in known.get(pair[0], ())] == []


def test_names_are_in_the_files_beside_them():
    pairs = [(name, path) for name, path in PLACED.findall(TEXT) if "/" in path]
    assert len(pairs) > 20
    for name, path in pairs:
        text = (ROOT / "coach" / path).read_text("utf-8")
        assert re.search(rf"^\s*(class|def) {name}\b", text, re.M), (name, path)


def test_commands_can_be_run():
    """`python -m NAME` names a module; NAME alone stands for any."""
    modules = set(re.findall(r"python -m (tests\.[\w.]+)", TEXT)) - {"tests.benchmarks.NAME"}
    assert len(modules) > 10
    for module in modules:
        path = ROOT / module.replace(".", "/")
        assert path.with_suffix(".py").exists() or (path / "__main__.py").exists(), module
