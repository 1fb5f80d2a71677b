"""What is installed: the wheel and the source archive hold all that is needed, and every library
that is imported is asked for."""

from __future__ import annotations

import os
import pkgutil
import re
import shutil
import subprocess
import sys
import tarfile
import tomllib
import zipfile
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.test_imports import imports_of

ROOT = Path(__file__).resolve().parents[1]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
FOLDERS = ("coach", "drills", "configs")
# The module that a package brings, where it is called otherwise.
MODULES = {
    "aubio-ledfx": "aubio",
    "dtw-python": "dtw",
    "python-rtmidi": "rtmidi",
    "supriya-midi": "supriya_midi",
}

ASK = """
import sys
sys.path.insert(0, sys.argv[1])
import coach
from coach.files.configs import data_folder, load_instrument, load_keys, load_rules, load_sound
from coach.files.drillshelf import list_drills
assert coach.__file__.startswith(sys.argv[1]), coach.__file__
assert str(data_folder("drills")).startswith(sys.argv[1]), data_folder("drills")
assert load_rules("strict").tolerance_ms == 15 and load_keys() and load_sound()
assert load_instrument("double-horn").transposition == -7
rows = list_drills()
sys.stdout.write(f"{len(rows)} {sum(bool(row.problem) for row in rows)}")
"""


@dataclass(frozen=True, slots=True)
class Built:
    """A copy of the checkout, and what was made of it."""

    checkout: Path
    wheel: Path
    source: Path


def build(checkout: Path, *kinds: str) -> None:
    wanted = [word for kind in kinds for word in ("-t", kind)]
    command = [sys.executable, "-m", "hatchling", "build", *wanted, "-d", "made"]
    subprocess.run(command, cwd=checkout, check=True, capture_output=True)


def files_in(folder: Path) -> set[str]:
    """By their names below `folder`."""
    return {str(p.relative_to(folder)) for p in folder.rglob("*") if p.is_file()}


@pytest.fixture(scope="module")
def built(tmp_path_factory) -> Built:
    pytest.importorskip("hatchling")
    checkout = tmp_path_factory.mktemp("checkout")
    leave = shutil.ignore_patterns("__pycache__")
    for folder in FOLDERS:
        shutil.copytree(ROOT / folder, checkout / folder, ignore=leave)
    for name in (".gitignore", "LICENSE", "README.md", "pyproject.toml", ".small.txt"):
        shutil.copy(ROOT / name, checkout)
    build(checkout, "sdist", "wheel")
    (wheel,), (source,) = (checkout / "made").glob("*.whl"), (checkout / "made").glob("*.tar.gz")
    return Built(checkout, wheel, source)


def test_the_wheel_holds_everything_and_nothing_else(built):
    with zipfile.ZipFile(built.wheel) as packed:
        names = {name for name in packed.namelist() if ".dist-info/" not in name}
        meta = {name.split("/", 1)[1] for name in packed.namelist() if ".dist-info/" in name}
        (entry,) = (name for name in packed.namelist() if name.endswith("entry_points.txt"))
        told = packed.read(entry).decode().split()
    assert told == ["[console_scripts]", "coach", "=", PROJECT["scripts"]["coach"]]
    assert callable(pkgutil.resolve_name(told[-1]))
    wanted = {f"coach/{name}" for name in files_in(built.checkout / "coach")}
    for folder in ("drills", "configs"):
        wanted |= {f"coach/data/{folder}/{name}" for name in files_in(built.checkout / folder)}
    assert names == wanted
    assert meta == {"METADATA", "WHEEL", "RECORD", "entry_points.txt", "licenses/LICENSE"}


def test_what_is_no_code_is_in_the_wheel(built):
    """Named one by one: what a change of the build could lose without any import failing."""
    names = set(zipfile.ZipFile(built.wheel).namelist())
    for name in (
        "coach/book/1.sql",
        "coach/files/engrave/sheet.typ",
        "coach/hear/follow/model/weights.npz",
        "coach/data/drills/scales-one-octave.toml",
        "coach/data/configs/rules.toml",
        "coach/data/configs/records.schema.json",
        "coach/data/configs/instruments/double-horn.toml",
    ):
        assert name in names


def test_the_source_archive_builds_the_same_wheel(built, tmp_path):
    with tarfile.open(built.source) as packed:
        packed.extractall(tmp_path, filter="data")
    (unpacked,) = tmp_path.iterdir()
    build(unpacked, "wheel")
    (again,) = (unpacked / "made").glob("*.whl")
    with zipfile.ZipFile(built.wheel) as one, zipfile.ZipFile(again) as other:
        assert {i.filename: i.CRC for i in one.infolist()} == {
            i.filename: i.CRC for i in other.infolist()
        }


def test_from_an_installed_wheel(built, tmp_path):
    """It finds drills and configs with no checkout in sight."""
    site = tmp_path / "site"
    with zipfile.ZipFile(built.wheel) as packed:
        packed.extractall(site)
    env = {k: v for k, v in os.environ.items() if k != "PYTHONPATH"}
    asked = subprocess.run(
        [sys.executable, "-c", ASK, str(site)],
        cwd=tmp_path,
        env=env,
        check=False,
        capture_output=True,
        text=True,
    )
    assert asked.returncode == 0, asked.stderr
    assert asked.stdout == f"{len(list((ROOT / 'drills').glob('*.toml')))} 0"


def modules(requirements: list[str]) -> set[str]:
    """The modules that these packages bring."""
    names = [re.split(r"[<>=; ]", one, maxsplit=1)[0] for one in requirements]
    return {MODULES.get(name, name) for name in names}


def test_every_library_is_asked_for_and_none_that_is_not_used():
    extras = PROJECT["optional-dependencies"]
    extra = modules(extras["recording"] + extras["ensemble"])
    used = {
        name.split(".")[0] for path in (ROOT / "coach").rglob("*.py") for name in imports_of(path)
    }
    used -= {*sys.stdlib_module_names, "coach"}
    assert used - extra == modules(PROJECT["dependencies"])
    assert extra < used


def test_the_small_list_asks_for_nothing_else():
    lines = (ROOT / ".small.txt").read_text().splitlines()
    small = [line for line in lines if not line.startswith("#")]
    assert set(small) < set(PROJECT["dependencies"])
    left_out = set(PROJECT["dependencies"]) - set(small)
    assert modules(list(left_out)) == {"aubio", "soundfile", "typst", "verovio"}
