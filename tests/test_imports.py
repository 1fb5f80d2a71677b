"""Who may import whom, checked by walking the imports."""

from __future__ import annotations

import ast
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent / "coach"
SIDE_ROOMS = ("hear", "ports", "files", "book", "screen", "page")
JOINERS = (
    "session.py",
    "ending.py",
    "showing.py",
    "taking.py",
    "roles.py",
    "seats.py",
    "assessment.py",
    "cli",
    "__init__.py",
    "__main__.py",
)
CLOCKS = {"time", "threading", "sounddevice", "rtmidi", "rtmixer", "supriya_midi"}
ONLY_IN = {"rich": ("screen", "cli"), "sqlite3": ("book",), "aubio": ("hear",)}


def imports_of(path: Path) -> set[str]:
    """Full names of all modules a file imports, wherever in the file."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Import):
            found.update(alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path} uses a relative import"
            found.add(node.module or "")
            found.update(f"{node.module}.{alias.name}" for alias in node.names)
    return found


def files_of(room: str) -> list[Path]:
    files = sorted((ROOT / room).rglob("*.py"))
    assert files, f"no files in {room}"
    return files


def test_the_core_is_pure():
    for path in files_of("core"):
        for name in imports_of(path):
            top = name.split(".")[0]
            ours = name.startswith(("coach.core", "coach.errors")) or name == "coach"
            assert top in sys.stdlib_module_names or ours, f"{path} imports {name}"
            assert top not in CLOCKS, f"{path} imports {name}"


@pytest.mark.parametrize("room", SIDE_ROOMS)
def test_side_rooms_know_only_the_core(room):
    for path in files_of(room):
        for name in imports_of(path):
            if name.startswith("coach."):
                allowed = ("coach.core", "coach.errors", f"coach.{room}")
                assert name.startswith(allowed), f"{path} imports {name}"


def test_clocks_and_devices_live_under_ports():
    for path in sorted(ROOT.rglob("*.py")):
        if "ports" in path.relative_to(ROOT).parts:
            continue
        names = imports_of(path)
        assert not {n.split(".")[0] for n in names} & CLOCKS, path
        assert "datetime.now" not in path.read_text(), path


def test_libraries_stay_in_their_rooms():
    for path in sorted(ROOT.rglob("*.py")):
        room = path.relative_to(ROOT).parts[0]
        for library, rooms in ONLY_IN.items():
            if any(n.split(".")[0] == library for n in imports_of(path)):
                assert room in rooms, f"{path} imports {library}"


def test_every_file_is_in_a_room():
    for path in ROOT.iterdir():
        if path.suffix == ".py":
            assert path.name in (*JOINERS, "errors.py"), path
