"""Data is never code: nothing in the package runs, unpickles or formats what it has read, and SQL
takes its values as parameters."""

from __future__ import annotations

import ast
from collections.abc import Callable
from dataclasses import dataclass

import pytest

from tests.test_imports import ROOT

# What runs or makes objects of data.
_CALLS = {"eval", "exec", "compile", "__import__", "execfile", "input"}
_MODULES = {"pickle", "cPickle", "dill", "marshal", "shelve", "yaml", "jsonpickle", "code", "runpy"}
_METHODS = {"extract", "extractall", "system", "popen", "executescript", "enable_load_extension"}
# The only modules that start a process: what they start is said there, none of it was read.
_STARTERS = {"files/engrave/music.py", "cli/typed.py"}
# What reaches a network, opens a browser, or fetches what it lacks.
_REACHING = {
    "socket", "socketserver", "ssl", "http", "urllib", "urllib3", "requests", "httpx", "aiohttp",
    "ftplib", "smtplib", "poplib", "imaplib", "telnetlib", "xmlrpc", "webbrowser", "asyncio",
    "pooch", "pip", "ensurepip",
}  # fmt: skip
_ASKING = {"execute", "executemany", "rows", "_rows", "_inserted", "_read"}
# What stands in SQL beside its parameters: names out of the module itself, and marks ("?, ?").
_IN_SQL = {
    "marks", "names", "column", "table", "day", "where", "fits", "chosen", "_KEPT", "_SAME",
    "VERSION", "DAY.format(utc='kept_utc')", "_key(table)", "round(1000 * wait_s)",
    "SHORT_LOG_PAGES",
}  # fmt: skip


@dataclass(frozen=True)
class Found:
    """What a module imports (in full), and what it calls, with the last part of each name."""

    imports: frozenset[str]
    calls: tuple[tuple[str, ast.Call], ...]


def found_in(text: str) -> Found:
    imports: set[str] = set()
    calls = []
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Import):
            imports.update(alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            imports.update({node.module or "", *(f"{node.module}.{a.name}" for a in node.names)})
        elif isinstance(node, ast.Call):
            called = node.func
            name = called.attr if isinstance(called, ast.Attribute) else ast.unparse(called)
            calls.append((name, node))
    return Found(frozenset(imports), tuple(calls))


@pytest.fixture(scope="module")
def modules() -> dict[str, Found]:
    """All of the package, by path."""
    paths = sorted(ROOT.rglob("*.py"))
    return {p.relative_to(ROOT).as_posix(): found_in(p.read_text("utf-8")) for p in paths}


def keywords(call: ast.Call) -> dict[str | None, str]:
    return {one.arg: ast.unparse(one.value) for one in call.keywords}


def runs(found: Found) -> list[str]:
    """Calls that run what they are given."""
    return [
        f"line {call.lineno}: {name}"
        for name, call in found.calls
        if name in (_CALLS if isinstance(call.func, ast.Name) else _METHODS)
        or keywords(call).get("shell", "False") != "False"
    ]


def makes(found: Found) -> list[str]:
    """Modules and calls that make objects of what they are given."""
    loads = [
        f"line {call.lineno}: {name}"
        for name, call in found.calls
        if ast.unparse(call.func) in ("np.load", "numpy.load")
        and keywords(call).get("allow_pickle") != "False"
    ]
    return [*sorted(tops(found) & _MODULES), *loads]


def tops(found: Found) -> set[str]:
    return {name.split(".")[0] for name in found.imports}


def set_in(found: Found) -> list[str]:
    """What is set into SQL and is no name out of the code."""
    return [
        f"line {call.lineno}: {{{ast.unparse(node.value)}}}"
        for name, call in found.calls
        if name in _ASKING and call.args
        for node in ast.walk(call.args[0])
        if isinstance(node, ast.FormattedValue) and ast.unparse(node.value) not in _IN_SQL
    ]


def nothing(look: Callable[[Found], object], modules: dict[str, Found]) -> bool:
    told = {path: look(found) for path, found in modules.items() if look(found)}
    assert not told
    return True


def test_nothing_runs_what_was_read(modules):
    assert nothing(runs, modules)


def test_nothing_makes_objects_of_what_was_read(modules):
    assert nothing(makes, modules)


def test_no_module_knows_a_network(modules):
    assert nothing(lambda found: tops(found) & _REACHING, modules)


def test_processes_are_started_in_one_place_only(modules):
    started = {path for path, found in modules.items() if "subprocess" in tops(found)}
    assert started == _STARTERS


def test_sql_takes_values_as_parameters(modules):
    asking = {path: found for path, found in modules.items() if path.startswith(("book/", "cli/"))}
    assert nothing(set_in, asking)
    others = modules.keys() - asking.keys()
    assert not any("sqlite3" in tops(modules[path]) for path in others)


@pytest.mark.parametrize(
    ("look", "text"),
    [
        (runs, "eval(x)"),
        (runs, "archive.extractall()"),
        (runs, "subprocess.run(x, shell=True)"),
        (makes, "np.load(x)"),
        (makes, "np.load(x, allow_pickle=True)"),
        (makes, "import yaml.loader"),
        (set_in, "db.execute(f'SELECT {value}')"),
    ],
)
def test_it_would_be_seen(look, text):
    assert look(found_in(text))
