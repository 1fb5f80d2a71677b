"""The keyboard through a pseudo-terminal, and the mapping's errors."""

from __future__ import annotations

import os
import select
import signal
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

from coach.errors import CoachError
from coach.ports.keys import COMMANDS, Keys, Together

CONFIG = Path(__file__).parents[2] / "configs" / "keys.toml"
MAPPING = tomllib.loads(CONFIG.read_text(encoding="utf-8"))["keys"]
PATIENCE_S = 20.0

termios = pytest.importorskip("termios")
pty = pytest.importorskip("pty")

# Prints every command until `quit`; "raise" as an argument fails after the first command.
CHILD = """
import select, sys, tomllib
from coach.ports.keys import Keys
from coach.ports.signals import ends_in_order
mapping = tomllib.loads(open(sys.argv[1], encoding="utf-8").read())["keys"]
with ends_in_order(), Keys(mapping) as keys:
    print("ready", flush=True)
    while True:
        select.select([sys.stdin], [], [], 0.05)
        for command in keys.poll():
            print("<" + command + ">", flush=True)
            if sys.argv[2:] == ["raise"]:
                raise RuntimeError("on purpose")
            if command == "quit":
                sys.exit(0)
"""


class Child:
    """A process that reads keys from a pseudo-terminal of ours."""

    def __init__(self, *arguments: str) -> None:
        self.ours, self.theirs = pty.openpty()
        self.before = termios.tcgetattr(self.theirs)
        self.process = subprocess.Popen(
            [sys.executable, "-c", CHILD, str(CONFIG), *arguments],
            stdin=self.theirs,
            stdout=self.theirs,
            stderr=subprocess.DEVNULL,
            env={**os.environ, "TERM": "xterm", "PYTHONPATH": str(CONFIG.parents[1])},
        )
        self.output = ""
        self.until("ready")

    def until(self, word: str) -> None:
        while word not in self.output:
            assert select.select([self.ours], [], [], PATIENCE_S)[0], f"no {word}: {self.output!r}"
            self.output += os.read(self.ours, 1024).decode()

    def type(self, keys: str) -> None:
        os.write(self.ours, keys.encode())

    def end(self) -> int:
        return self.process.wait(PATIENCE_S)

    def close(self) -> None:
        if self.process.poll() is None:
            self.process.kill()
            self.process.wait()
        os.close(self.ours)
        os.close(self.theirs)

    @property
    def modes(self) -> list[object]:
        return termios.tcgetattr(self.theirs)

    @property
    def commands(self) -> list[str]:
        return [part.split(">")[0] for part in self.output.split("<")[1:]]


@pytest.fixture
def child() -> Iterator[Child]:
    made = Child()
    yield made
    made.close()


def test_every_key_gives_its_command(child: Child) -> None:
    """Arrows as ECMA-48 cursor sequences: CSI A up, B down, C right, D left."""
    child.type(" \rrR-+=\x1b[A\x1b[B\x1b[C\x1b[Dx1q")
    assert child.end() == 0
    child.until("<quit>")
    assert child.commands == [
        "go", "go", "again", "again", "slower", "faster", "faster",
        "faster", "slower", "faster", "slower", "quit",
    ]  # fmt: skip


def test_escape_alone_quits_and_is_not_an_arrow(child: Child) -> None:
    child.type("\x1b[A")
    child.until("<faster>")
    child.type("\x1b")
    assert child.end() == 0
    child.until("<quit>")
    assert child.commands == ["faster", "quit"]


def test_keys_are_neither_echoed_nor_line_by_line(child: Child) -> None:
    local_flags = child.modes[3]
    assert isinstance(local_flags, int)
    assert not local_flags & termios.ECHO
    assert not local_flags & termios.ICANON
    child.type("q")
    child.end()
    assert child.modes == child.before


def test_nothing_is_asked_of_the_terminal(child: Child) -> None:
    assert "\x1b" not in child.output


def test_terminal_is_put_back_after_an_error() -> None:
    child = Child("raise")
    try:
        assert child.modes != child.before
        child.type("r")
        assert child.end() == 1
        assert child.modes == child.before
    finally:
        child.close()


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
def test_terminal_is_put_back_after_a_signal(child: Child, number: int) -> None:
    child.process.send_signal(number)
    assert child.end() == -signal.SIGINT  # what Python makes of KeyboardInterrupt
    assert child.modes == child.before


def test_without_a_terminal_there_are_no_commands(monkeypatch: pytest.MonkeyPatch) -> None:
    with open(os.devnull) as nothing:
        monkeypatch.setattr(sys, "__stdin__", nothing)
        with Keys(MAPPING) as keys:
            assert keys.poll() == []


def test_file_names_every_command_and_the_hint_tells_them() -> None:
    assert set(MAPPING) == set(COMMANDS)
    assert Keys(MAPPING).hint == "space go/stop   r again   - slower   + faster   q quit"


@pytest.mark.parametrize(
    ("mapping", "said"),
    [
        ({"stop": ["q"]}, "'stop' is not a command"),
        ({"go": "space"}, "go = 'space' is not a list"),
        ({"go": ["spcae"]}, "go has the unknown key 'spcae'"),
        ({"go": [7]}, "go has the unknown key 7"),
        ({"go": ["\x1b"]}, "go has the unknown key '\\x1b'"),
        ({"go": ["r"], "again": ["R"]}, "'R' stands under go and again"),
        (["go"], "['go'] is not a table of commands"),
    ],
)
def test_errors_name_the_key_and_the_value(mapping: dict, said: str) -> None:
    with pytest.raises(CoachError) as caught:
        Keys(mapping, "my.toml")
    assert caught.value.what == said
    assert caught.value.where == "my.toml"
    assert caught.value.hint


def test_together() -> None:
    class Fixed:
        def __init__(self, *commands: str) -> None:
            self.commands = list(commands)

        def poll(self) -> list[str]:
            return self.commands

    assert Together(Fixed("go"), Fixed(), Fixed("quit")).poll() == ["go", "quit"]
