"""configs/tonguing.toml: the figures that tonguing rests on, and the spellings of syllables."""

from __future__ import annotations

from dataclasses import dataclass

from coach.core.tonguing import ORDERS, Style
from coach.files.configs import data_folder
from coach.files.notewords import is_syllable
from coach.files.toml import Table, read_toml

SLOWEST_LIMIT_HZ, FASTEST_LIMIT_HZ = 1.0, 30.0


@dataclass(frozen=True, slots=True)
class TonguingTable:
    """What may be chosen, and the style of a player who chooses nothing: the first of each."""

    fronts: tuple[str, ...]
    backs: tuple[str, ...]
    style: Style


def load_tonguing() -> TonguingTable:
    """The table of configs/tonguing.toml; FileError if anything in it is wrong."""
    path = data_folder("configs") / "tonguing.toml"
    table = Table(read_toml(path), path)
    fronts, backs = _syllables(table, "fronts"), _syllables(table, "backs")
    style = Style(
        front=fronts[0],
        back=backs[0],
        order=table.choice("order", ORDERS),
        single_limit_hz=table.number("single_limit_hz", SLOWEST_LIMIT_HZ, FASTEST_LIMIT_HZ),
        rest_share=table.number("rest_share", 0.01, 1),
        long_ratio=table.number("long_ratio", 1.01, 8),
        leap_semitones=table.whole("leap_semitones", 1, 48),
    )
    table.finish()
    return TonguingTable(fronts, backs, style)


def _syllables(table: Table, key: str) -> tuple[str, ...]:
    allowed = 'a list of syllables such as ["ta", "da"]'
    names = table.texts(key, allowed=allowed)
    for place, name in enumerate(names):
        if not is_syllable(name):
            raise table.wrong_entry(key, place, "one to six small letters, such as ta")
    return names
