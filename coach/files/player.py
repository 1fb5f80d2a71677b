"""player.toml in the user's folder: what the player has told about themselves.

[comfortable.double-horn]     by instrument: the notes that come easily, written
low = "C3"
high = "G5"
"""

from __future__ import annotations

from pathlib import Path

from coach.core.instrument import Instrument
from coach.core.pitch import midi_of_name, name_of_midi, sounding_of_written, written_of_sounding
from coach.core.warmup import check_comfortable
from coach.errors import FileError
from coach.files.configs import instrument_names, own_folder
from coach.files.output import private_folder, write_whole, writing
from coach.files.toml import Table, nearest, read_toml

FILE = "player.toml"
_NOTE = 'a written note such as "C4" or "Bb3"'


def kept_range(instrument: Instrument) -> tuple[int, int] | None:
    """The comfortable range on this instrument, sounding; None if it was never told.

    FileError if the file can't be read or holds what it should not.
    """
    names = _read().get(instrument.name)
    if names is None:
        return None
    low, high = (sounding_of_written(midi_of_name(n), instrument.transposition) for n in names)
    try:
        check_comfortable(instrument, (low, high))
    except ValueError as error:
        where = f"{_path()}, [comfortable.{instrument.name}]"
        raise FileError(str(error), where, "change low or high there") from None
    return low, high


def keep_range(instrument: Instrument, comfortable: tuple[int, int]) -> None:
    """Keep the sounding range in place of an older one; ValueError if it is none, FileError if the
    file can't be read or written."""
    check_comfortable(instrument, comfortable)
    low, high = (
        name_of_midi(written_of_sounding(pitch, instrument.transposition), fifths=-1)
        for pitch in comfortable
    )
    _write({**_read(), instrument.name: (low, high)})


def _path() -> Path:
    return own_folder() / FILE


def _read() -> dict[str, tuple[str, str]]:
    """Written low and high by instrument."""
    if not _path().exists():
        return {}
    table = Table(read_toml(_path()), _path())
    ranges = table.table("comfortable")
    for name in ranges.names():
        if name not in instrument_names():
            hint = nearest(name, instrument_names())
            raise FileError(f'there is no instrument "{name}"', str(_path()), hint)
    found = {name: _names(ranges.table(name)) for name in ranges.names()}
    table.finish()
    return found


def _names(table: Table) -> tuple[str, str]:
    names = table.text("low"), table.text("high")
    for key, name in zip(("low", "high"), names, strict=True):
        try:
            midi_of_name(name)
        except ValueError:
            raise table.wrong(key, _NOTE) from None
    table.finish()
    return names


def _write(ranges: dict[str, tuple[str, str]]) -> None:
    """The whole file, put in place at once."""
    lines = ["# What comes easily, in written notes: `coach warmup --low NOTE --high NOTE`."]
    for name, (low, high) in sorted(ranges.items()):
        lines += ["", f"[comfortable.{name}]", f'low = "{low}"', f'high = "{high}"']
    try:
        with writing(_path()):
            private_folder(_path().parent)
        write_whole(_path(), "\n".join(lines) + "\n", private=True)
    except FileError as error:
        hint = "set COACH_HOME to a folder you can write to"
        raise FileError(f"the range can't be kept: {error.what}", str(_path()), hint) from None
