"""Notes out of a SoundFont (.sf2 or .sf3), by the library tinysoundfont, which is not required.

The library takes a note at the sample at which it is told of it; here every note is made alone from
its first sample on, so that is exact.  Its envelopes move in steps of 64 samples, and a rising one
begins with a step of silence: that is cut off.  More silence than that is the font's own.
"""

from __future__ import annotations

import math
import os
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from coach.errors import CoachError, FileError, reason_of
from coach.ports.click import Samples
from coach.ports.ensemble.fontcheck import fault_of
from coach.ports.ensemble.voicing import NoteKey

SUFFIXES = (".sf2", ".sf3")
SYSTEM_FOLDERS = (Path("/usr/share/sounds/sf2"), Path("/usr/share/sounds/sf3"))
HINT = "choose a SoundFont (.sf2 or .sf3), or none: the coach has sounds of its own"
# Debian's largest has 144 MB; the samples are held in memory at twice their size.
LARGEST_BYTES = 1 << 30
TAIL_S, PIECE_S, FADE_S = 1.5, 0.1, 0.05
SILENT = 1e-4
STEP_FRAMES = 64
# The library lets a sound that is cut die away in 10 ms.
CUT_S = 0.03
# Many fonts are made for sixty notes at once: a single one comes out soft.
GAIN_DB = 6.0


class SoundFont:
    """A `Voicing` out of a font; FileError for a file that is none, CoachError where the library
    is missing."""

    def __init__(self, path: Path, rate: int, a4_hz: float = 440.0) -> None:
        self.rate, self._path = rate, path
        self.tail_frames = round(TAIL_S * rate)
        self._tuning = 12 * math.log2(a4_hz / 440.0)
        data = _read(path)
        self._synth = _library().Synth(gain=GAIN_DB, samplerate=rate)
        try:
            self._font = self._synth.sfload(data)
        except RuntimeError as error:
            raise FileError("the SoundFont is damaged", str(path), HINT) from error
        self._programs = self._known_programs()

    def wave(self, key: NoteKey) -> Samples:
        """One note and what the font lets it sound on, 1.5 s at most, faded where that cuts it."""
        synth = self._synth
        synth.program_select(0, self._font, 0, self._nearest(key.program))
        synth.set_tuning(0, self._tuning)
        synth.noteon(0, key.pitch, key.velocity)
        held = self._generated(max(1, key.length_frames))
        synth.noteoff(0, key.pitch)
        made = np.concatenate([held, *self._tail()])
        synth.sounds_off(0)
        self._generated(round(CUT_S * self.rate))
        return made[_silent_step(made) :]

    def _tail(self) -> list[Samples]:
        piece = round(PIECE_S * self.rate)
        parts: list[Samples] = []
        while sum(map(len, parts)) + piece <= self.tail_frames:
            parts.append(self._generated(piece))
            if float(np.max(np.abs(parts[-1]))) < SILENT:
                break
        fade = min(round(FADE_S * self.rate), len(parts[-1]))
        parts[-1][-fade:] *= np.linspace(1, 0, fade, dtype=np.float32)
        return parts

    def _generated(self, frames: int) -> Samples:
        """The next samples, both sides as one."""
        stereo = np.frombuffer(self._synth.generate(frames), np.float32).reshape(-1, 2)
        return (stereo[:, 0] + stereo[:, 1]) / np.float32(2)

    def _known_programs(self) -> tuple[int, ...]:
        names = self._synth.sfpreset_name
        known = tuple(k for k in range(128) if _named(names, self._font, k))
        if not known:
            raise FileError("it has no instruments in bank 0", str(self._path), HINT)
        return known

    def _nearest(self, program: int) -> int:
        """The program itself, or another of its family (eight programs), or the nearest number."""
        family = program // 8
        return min(self._programs, key=lambda k: (k != program, k // 8 != family, abs(k - program)))


def _silent_step(made: Samples) -> int:
    """How many of the samples of the first step are silent before the first that is not."""
    loud = np.flatnonzero(made[: STEP_FRAMES + 1])
    return int(loud[0]) if len(loud) else 0


def find_soundfont(wanted: str | None, own_folder: Path) -> Path | None:
    """The font to use: what is `wanted` (a file, or a name in one of the folders), or the first in
    the player's `own_folder`/soundfonts or in the system's; None where there is none.

    FileError if what is wanted is not there.
    """
    folders = (own_folder / "soundfonts", *SYSTEM_FOLDERS)
    fonts = list(_fonts_in(folders))
    if wanted is None:
        return next(iter(fonts), None)
    named = Path(os.path.expanduser(wanted))
    if named.is_file():
        return named
    for font in fonts:
        if wanted in (font.name, font.stem):
            return font
    raise FileError("there is no such SoundFont", wanted, HINT)


def _fonts_in(folders: Sequence[Path]) -> Iterable[Path]:
    for folder in folders:
        if folder.is_dir():
            yield from sorted(p for p in folder.iterdir() if p.suffix.lower() in SUFFIXES)


def _read(path: Path) -> bytes:
    """All of a SoundFont; FileError if it is none."""
    try:
        if path.stat().st_size > LARGEST_BYTES:
            raise FileError("this SoundFont is larger than 1 GB", str(path), "choose a smaller one")
        data = path.read_bytes()
    except OSError as error:
        what = f"it cannot be read ({reason_of(error)})"
        raise FileError(what, str(path), HINT) from error
    fault = fault_of(data)
    if fault:
        raise FileError(fault, str(path), HINT)
    return data


def _library() -> Any:
    try:
        import tinysoundfont
    except ImportError as error:
        raise CoachError(
            "SoundFonts need the library tinysoundfont, which is not installed",
            hint="run python -m pip install --no-deps tinysoundfont,"
            " or play without a SoundFont: the coach has sounds of its own",
        ) from error
    return tinysoundfont


def _named(name_of: Any, font: int, program: int) -> bool:
    try:
        return name_of(font, 0, program) is not None
    except UnicodeDecodeError:
        # It has a name, written in an older way.
        return True
    except RuntimeError:
        return False
