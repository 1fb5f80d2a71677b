"""Is a file a whole SoundFont?  The library trusts what it is given and may take the program down,
so every index and length is looked at first.

From the SoundFont 2.04 specification (from memory): a RIFF file "sfbk" whose list "sdta" holds the
samples and whose list "pdta" holds nine tables; each ends with one record that only closes it.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

RECORD_BYTES = {
    "phdr": 38, "pbag": 4, "pmod": 10, "pgen": 4, "inst": 22, "ibag": 4, "imod": 10, "igen": 4,
    "shdr": 46,
}  # fmt: skip
# Where in a record the index into another table stands, and that table.
INDICES = (
    ("phdr", 24, "pbag"), ("pbag", 0, "pgen"), ("pbag", 2, "pmod"),
    ("inst", 20, "ibag"), ("ibag", 0, "igen"), ("ibag", 2, "imod"),
)  # fmt: skip
INSTRUMENT, SAMPLE = 41, 53
# Generators that move the ends of a sample or of its loop, and how far one step moves them.
MOVING = {0: 1, 1: 1, 2: 1, 3: 1, 4: 32768, 12: 32768, 45: 32768, 50: 32768}
# A sample of an .sf3 is a stream of its own, packed; its loop counts from its start.
PACKED = 0x10

Table = NDArray[np.uint8]


def fault_of(data: bytes) -> str | None:
    """What is wrong with a SoundFont, as half a sentence; None if it can be played."""
    if data[:4] != b"RIFF" or data[8:12] != b"sfbk":
        return "this is no SoundFont"
    if int.from_bytes(data[4:8], "little") + 8 > len(data) + 1:
        return "the file ends too early"
    try:
        lists = dict(_lists(data))
        tables = {name: _table(lists["pdta"], name) for name in RECORD_BYTES}
        samples = len(lists["sdta"].get("smpl", b""))
    except (KeyError, ValueError):
        return "parts of the SoundFont are missing or damaged"
    good = all(_index_fits(tables, *index) for index in INDICES)
    good = good and _targets_fit(tables) and _samples_fit(tables, samples)
    return None if good else "the SoundFont is damaged"


def _lists(data: bytes) -> Iterator[tuple[str, dict[str, bytes]]]:
    for name, body in _chunks(memoryview(data)[12:]):
        if name == "LIST":
            chunks = {inner: bytes(part) for inner, part in _chunks(body[4:])}
            yield bytes(body[:4]).decode("latin-1"), chunks


def _chunks(data: memoryview) -> Iterator[tuple[str, memoryview]]:
    """One after the other without a byte between, as the library reads them and .sf3 files are
    written; in an .sf2 all lengths are even."""
    at = 0
    while at + 8 <= len(data):
        length = int.from_bytes(data[at + 4 : at + 8], "little")
        if at + 8 + length > len(data):
            raise ValueError("a chunk ends beyond the file")
        yield bytes(data[at : at + 4]).decode("latin-1"), data[at + 8 : at + 8 + length]
        at += 8 + length


def _table(chunks: dict[str, bytes], name: str) -> Table:
    """The records of a table as rows of bytes; at least one before the closing one, but for the
    modulators."""
    rows = np.frombuffer(chunks[name], np.uint8).reshape(-1, RECORD_BYTES[name])
    if len(rows) < (1 if name.endswith("mod") else 2):
        raise ValueError(f"{name} is empty")
    return rows


def _numbers(table: Table, at: int, kind: str) -> NDArray[np.int64]:
    width = np.dtype(kind).itemsize
    column = np.ascontiguousarray(table[:, at : at + width])
    return column.view(kind)[:, 0].astype(np.int64)


def _index_fits(tables: dict[str, Table], name: str, at: int, other: str) -> bool:
    """Each record begins in the other table where the one before it has ended."""
    index = _numbers(tables[name], at, "<u2")
    return bool(np.all(np.diff(index) >= 0) and index[-1] < len(tables[other]))


def _targets_fit(tables: dict[str, Table]) -> bool:
    for name, kind, other in (("pgen", INSTRUMENT, "inst"), ("igen", SAMPLE, "shdr")):
        kinds, values = _numbers(tables[name], 0, "<u2"), _numbers(tables[name], 2, "<u2")
        # The closing record is read by nobody.
        wanted = values[:-1][kinds[:-1] == kind]
        if np.any(wanted >= len(tables[other]) - 1):
            return False
    return True


def _samples_fit(tables: dict[str, Table], sample_bytes: int) -> bool:
    """Every sample and its loop lie inside the samples, however generators move them."""
    heads = tables["shdr"][:-1]
    start, end, loop_start, loop_end, rate = (_numbers(heads, at, "<u4") for at in range(20, 40, 4))
    packed = (_numbers(heads, 44, "<u2") & PACKED) != 0
    most = np.where(packed, sample_bytes, sample_bytes // 2)
    fits = (start < end) & (end <= most) & (rate > 0) & (loop_start <= loop_end)
    fits &= packed | (loop_end <= most)
    # Samples kept in a chip's ROM (bit 15) are not in the file and never played.
    fits |= (_numbers(heads, 44, "<u2") & 0x8000) != 0
    return bool(np.all(fits)) and _moves_fit(tables["igen"], int(np.max(most, initial=0)))


def _moves_fit(generators: Table, most: int) -> bool:
    kinds, values = _numbers(generators, 0, "<u2"), _numbers(generators, 2, "<i2")
    return all(
        bool(np.all(np.abs(values[kinds == kind]) * step <= most)) for kind, step in MOVING.items()
    )
