"""The texts of `coach help`, configs/topics/NAME.toml, with the figures that they name.

    title = "The gate"
    group = "tempo"                 one of core.topics.GROUPS
    also = ["threshold"]            optional: other words for it
    see = ["ceiling"]               optional: topics nearby
    text = '''...'''                as core.topics lays it out

{rules.normal.split_ms} in a text is the figure of that name in configs/rules.toml, and
{core.gate.Gate.passes} a constant (or the default of a field) in that module of the core; with a %
at its end ({rules.normal.pass_share%}) it is shown in per cent.  So no text tells figures that no
longer hold.
"""

from __future__ import annotations

import re
from dataclasses import fields
from functools import lru_cache
from importlib import import_module
from pathlib import Path
from typing import Any

from coach.core.topics import GROUPS, Topic
from coach.errors import FileError
from coach.files.configs import data_folder
from coach.files.toml import Table, read_toml

_FIGURE = re.compile(r"\{([a-zA-Z_][\w.]*)(%?)\}")


def topic_names() -> tuple[str, ...]:
    return tuple(sorted(path.stem for path in _folder().glob("*.toml")))


def load_topics() -> tuple[Topic, ...]:
    """All of them, group by group, by name; FileError if anything in one is wrong."""
    topics = [read_topic(_folder() / f"{name}.toml") for name in topic_names()]
    return tuple(sorted(topics, key=lambda topic: list(GROUPS).index(topic.group)))


def find_topic(word: str) -> Topic | None:
    """The topic of that name, or for which it is another word, if there is one."""
    return next((topic for topic in load_topics() if topic.answers(word)), None)


def read_topic(path: Path) -> Topic:
    table = Table(read_toml(path), path)
    topic = Topic(
        path.stem,
        table.text("title"),
        table.choice("group", GROUPS),
        _filled(table.text("text"), path),
        table.texts("also", ()),
        table.texts("see", ()),
    )
    table.finish()
    return topic


def _filled(text: str, path: Path) -> str:
    def figure(found: re.Match[str]) -> str:
        try:
            value = _value(found[1].split("."))
            return f"{float(100 * value):.3g} %" if found[2] else _shown(value)
        except (LookupError, AttributeError, ImportError, TypeError, ValueError, FileError):
            hint = "name one in configs/, or a constant of the core"
            raise FileError(f"there is no figure {found[0]}", str(path), hint) from None

    return _FIGURE.sub(figure, text)


def _shown(value: Any) -> str:
    if isinstance(value, str):
        return value
    if isinstance(value, (list, tuple)):
        return ", ".join(map(_shown, value))
    return f"{float(value):g}"


def _value(names: list[str]) -> Any:
    """What stands under these names; LookupError and the like if nothing does."""
    if names[0] == "core":
        return _constant(names)
    value: Any = _config(names[0])
    for name in names[1:]:
        value = value[name]
    return value


def _constant(names: list[str]) -> Any:
    """A name in a module, the default of a field of a class in it, or an entry of a tuple."""
    *module, last = names
    if not module[-1][:1].isupper():
        return getattr(import_module(f"coach.{'.'.join(module)}"), last)
    owner = getattr(import_module(f"coach.{'.'.join(module[:-1])}"), module[-1])
    if isinstance(owner, tuple):
        return owner[int(last)]
    return {one.name: one.default for one in fields(owner)}[last]


@lru_cache
def _config(name: str) -> dict[str, Any]:
    return read_toml(data_folder("configs") / f"{name}.toml")


def _folder() -> Path:
    return data_folder("configs") / "topics"
