"""`coach completion`: the scripts for the shells; that for bash is really run by bash."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys

import pytest

from coach.cli import commands, main
from coach.cli.completion import SHELLS
from coach.files.configs import own_folder
from tests.cli.test_bad_input import ROOT

HEAVY = ("numpy", "scipy", "aubio", "rich", "sounddevice", "verovio", "shtab", "sqlite3")
# Prints what Tab would offer at the end of the words of a line.
TAB = """source "$1"; shift
COMP_WORDS=("$@"); COMP_CWORD=$(($# - 1)); COMP_LINE="$*"; COMP_POINT=${#COMP_LINE}
_shtab_coach; printf '%s\\n' "${COMPREPLY[@]}"
"""


def script(shell: str, capsys) -> str:
    assert main(["completion", shell]) == 0
    return capsys.readouterr().out


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """A bash script, a `coach` for it to ask, and files to complete."""
    made = tmp_path_factory.mktemp("shell")
    done = subprocess.run(
        [sys.executable, "-m", "coach", "completion", "bash"],
        capture_output=True,
        text=True,
        cwd=ROOT,
    )
    (made / "script").write_text(done.stdout)
    ask = made / "coach"
    ask.write_text(f'#!/bin/sh\nPYTHONPATH="{ROOT}" exec "{sys.executable}" -m coach "$@"\n')
    ask.chmod(0o755)
    (made / "tuning.toml").touch()
    (made / "take.wav").touch()
    return made


def offered(folder, *words: str) -> list[str]:
    """By bash, for the last of the words."""
    if shutil.which("bash") is None:
        pytest.skip("no bash here")
    done = subprocess.run(
        ["bash", "--norc", "-c", TAB, "bash", str(folder / "script"), "coach", *words],
        capture_output=True,
        text=True,
        cwd=folder,
        env={**os.environ, "PATH": f"{folder}{os.pathsep}{os.environ['PATH']}"},
    )
    assert done.stderr == ""
    return done.stdout.split()


def test_commands(folder):
    assert set(offered(folder, "")) == set(commands())
    assert offered(folder, "dr") == ["drill", "drills"]


def test_options_of_the_command(folder):
    assert offered(folder, "drill", "turns", "--thr") == ["--threshold"]
    assert offered(folder, "check", "--thr") == []


def test_names_of_drills_with_own_ones_and_files(folder):
    own = own_folder() / "drills"
    own.mkdir(parents=True, exist_ok=True)
    (own / "turmoil.toml").touch()
    assert offered(folder, "drill", "tu") == ["turmoil", "turns", "tuning.toml"]
    assert offered(folder, "next", "tur") == ["turmoil", "turns"]


def test_values_of_options(folder):
    assert offered(folder, "drill", "turns", "--instrument", "double") == ["double-horn"]
    assert offered(folder, "instrument", "trumpet-") == ["trumpet-c"]
    assert sorted(offered(folder, "drill", "turns", "--rules", "")) == ["easy", "normal", "strict"]
    assert offered(folder, "drill", "turns", "--input", "mi") == ["mic", "midi"]
    assert "take.wav" in offered(folder, "drill", "turns", "--input", "ta")
    assert offered(folder, "help", "dev") == ["deviation", "devices"]
    assert offered(folder, "completion", "fi") == ["fish"]


@pytest.mark.parametrize("shell", SHELLS)
def test_every_shell_gets_a_script_that_asks_for_names(capsys, shell):
    text = script(shell, capsys)
    assert "coach completion --names drills" in text
    head = text.removeprefix("#compdef coach\n\n").splitlines()
    assert head[:2] == ["# Where this goes: coach help completion", ""]
    assert "Copy this" not in text
    assert text.startswith("#compdef") == (shell == "zsh")
    assert all(name in text for name in ("warmup", "import", "return", "completion"))
    # A program of that name on a developer's machine only.
    if (found := shutil.which(shell)) and shell in ("zsh", "fish"):
        done = subprocess.run([found, "-n"], input=text, capture_output=True, text=True)
        assert done.returncode == 0, done.stderr


def test_names_come_one_a_line_and_need_nothing_heavy():
    words = "import sys; from coach.cli import main; main(['completion', '--names', 'drills'])"
    code = f"{words}; print('##', *sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=ROOT)
    names, modules = done.stdout.split("##")
    assert "scales-one-octave" in names.splitlines()
    assert not set(HEAVY) & set(modules.split())
