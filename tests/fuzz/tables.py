"""Drill files and configs (TOML), spoiled line by line."""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import cache
from pathlib import Path
from random import Random
from unittest.mock import patch

from coach.core.fingering.candidates import candidates
from coach.core.timeline import plan_take
from coach.errors import CoachError
from coach.files import configs, tonguing
from coach.files.bookconfig import read_sound_keeping
from coach.files.building import read_building
from coach.files.configs import data_folder
from coach.files.drillfile import read_drill
from coach.files.fingering import read_weights
from coach.files.hard import read_hardness
from coach.files.instruments import read_instrument
from coach.files.planning import read_planning
from coach.files.player import kept_range
from coach.files.trial import read_settings
from coach.files.warmup import read_warmup
from coach.ports.keys import Keys
from coach.ports.pedal import Pedal
from coach.ports.settings import SoundSettings
from tests.fuzz.odd import TEXTS, write_text

VALUES = (
    "0", "1", "-1", "2", "16", "400", "1e9", "-0.0", "nan", "inf", "1e-320", "9223372036854775808",
    "true", "[]", "[1, 2]", "[[]]", "{}", "{a = 1}", '""', '"x"', '"C4"', '"all"', '["C4 1/4"]',
    '["C4 1/4", "rest 1/4", "D4 1/8 slur ta T1"]', "1979-05-27", '"""\n"""', "0x7f", '["ta"]',
    '"../../x"', "[64, 64, 64, 64]", '"double-horn"', '"trumpet"', '["9: 6/8"]', '"16/16"', '"1/2"',
)  # fmt: skip
_VALUE = re.compile(r"=.*")
_NUMBER = re.compile(r"\d+")


def spoiled_toml(text: str, other: str, random: Random) -> str:
    """One line or some lost, doubled, moved, out of another file, or with another value."""
    lines = text.splitlines()
    for _ in range(random.choice([1, 1, 1, 2, 4])):
        at = random.randrange(len(lines))
        match random.randrange(9):
            case 0:
                del lines[at]
            case 1:
                lines.insert(at, lines[random.randrange(len(lines))])
            case 2:
                lines.insert(at, random.choice(other.splitlines()))
            case 3:
                lines[at] = lines[at][: random.randrange(len(lines[at]) + 1)]
            case 4:
                lines[at] = lines[at].replace(" ", random.choice(["", "  ", "_", "\t"]), 1)
            case 5:
                lines[at] += random.choice([",", "]", '"', "#", "=", random.choice(TEXTS)])
            case 6:
                number = str(random.choice([0, 1, 3, 17, 64, 1000, 10**20]))
                lines[at] = _NUMBER.sub(number, lines[at], count=1)
            case _:
                put = f"= {random.choice(VALUES)}"
                lines[at] = _VALUE.sub(lambda _, put=put: put, lines[at], count=1)
        lines = lines or [""]
    return "\n".join(lines) + "\n"


@cache
def _texts(folder: str) -> dict[str, str]:
    where = data_folder(folder.split("/")[0]) / Path(*folder.split("/")[1:])
    return {path.name: path.read_text("utf-8") for path in sorted(where.glob("*.toml"))}


def drill(random: Random, folder: Path) -> str:
    texts = _texts("drills")
    name, other = random.choices(list(texts), k=2)
    path = folder / "spoiled.toml"
    write_text(path, spoiled_toml(texts[name], texts[other], random), random)
    try:
        made, instrument = read_drill(path, instrument=random.choice([None, None, "trumpet"]))
    except CoachError as error:
        return _said(error)
    for passage in (made.variants[0], made.variants[-1]):
        from coach.core.exercise import Exercise

        exercise = Exercise(passage, made.to_bpm, instrument.transposition, made.click)
        plan = plan_take(exercise, 8000, 8000)
        assert len(plan.dues) == len(passage.notes)
    return "drill"


def instrument(random: Random, folder: Path) -> str:
    texts = _texts("configs/instruments")
    name, other = random.choices(list(texts), k=2)
    for each, text in texts.items():
        (folder / each).write_text(text, "utf-8")
    path = folder / name
    write_text(path, spoiled_toml(texts[name], texts[other], random), random)
    try:
        made = read_instrument(path)
    except CoachError as error:
        return _said(error)
    for pitch in (made.lowest, made.highest):
        candidates(made, pitch)
    return "instrument"


def _keys(path: Path) -> None:
    keys = configs.load_keys()
    Keys({**keys["keys"], **keys["mixer"]})
    Pedal(keys["pedal"])


def _sound(path: Path) -> None:
    SoundSettings.from_table(configs.load_sound())


def _rules(path: Path) -> None:
    for name in configs.rules_names():
        configs.load_rules(name)


READERS: dict[str, Callable[[Path], object]] = {
    "keys.toml": _keys,
    "sound.toml": _sound,
    "rules.toml": _rules,
    "tonguing.toml": lambda path: tonguing.load_tonguing(),
    "book.toml": read_sound_keeping,
    "building.toml": read_building,
    "fingering.toml": read_weights,
    "hard.toml": lambda path: read_hardness(path, 8.0),
    "planning.toml": read_planning,
    "trial.toml": read_settings,
    "warmup.toml": read_warmup,
}


def config(random: Random, folder: Path) -> str:
    texts = _texts("configs")
    assert set(texts) == set(READERS), "a config that nobody reads here"
    name, other = random.choices(list(texts), k=2)
    path = folder / "configs" / name
    path.parent.mkdir(exist_ok=True)
    write_text(path, spoiled_toml(texts[name], texts[other], random), random)
    here = patch.object(configs, "data_folder", lambda _: path.parent)
    there = patch.object(tonguing, "data_folder", lambda _: path.parent)
    with here, there:
        try:
            READERS[name](path)
        except CoachError as error:
            return _said(error)
    return "config"


PLAYER = '[comfortable.double-horn]\nlow = "C3"\nhigh = "G5"\n[comfortable.trumpet]\nlow = "C4"\n'


def player(random: Random, folder: Path) -> str:
    """player.toml; `folder` is the player's own."""
    horn = configs.load_instrument("double-horn")
    write_text(folder / "player.toml", spoiled_toml(PLAYER, PLAYER, random), random)
    with patch.dict("os.environ", {"COACH_HOME": str(folder)}):
        try:
            found = kept_range(horn)
        except CoachError as error:
            return _said(error)
    return "range" if found else "no range"


def _said(error: CoachError) -> str:
    """One sentence that a terminal can show."""
    said = str(error)
    assert said.isprintable(), repr(said)
    assert len(said) < 2000, said
    return "error"
