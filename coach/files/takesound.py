"""The sounds of takes: one FLAC file a take in a folder of their own.

They are written with 16 bits.  The noise that this adds lies at -101 dB against full scale, 16 dB
under a very quiet room (-85 dB) and 20 to 30 dB under usual ones, so that even a take 30 dB softer
than usual loses nothing; with 24 bits the same takes need 2.3 to 3.3 times the space (15 s of horn
0.28 to 0.57 MB against 0.93 to 1.3 MB).
"""

from __future__ import annotations

import contextlib
import errno
import io
import os
import re
import shutil
from collections.abc import Iterable
from pathlib import Path

from coach.core.sound import Sound
from coach.errors import FileError
from coach.files.audio import read_audio, sound_library
from coach.files.output import private_folder, writing

_UID = re.compile(r"[0-9a-f]{32}")
_UNFINISHED = "*.part"
# Room that no sound takes: it is for the practice book.
LEFT_FREE_BYTES = 5_000_000


class TakeSounds:
    """The sounds in `folder`, which is made when the first is kept.  Each begins at its take's
    `start_frame`, and is named by the take's uid."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def keep(self, uid: str, sound: Sound) -> int:
        """Write it, whole or not at all; its size in bytes.  FileError if that can't be done."""
        path = self._path(uid)
        part = path.with_suffix(".part")
        with writing(self.folder):
            try:
                private_folder(self.folder)
                if shutil.disk_usage(self.folder).free < LEFT_FREE_BYTES:
                    raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
                _write(part, sound)
                size = part.stat().st_size
                part.replace(path)
            except BaseException:
                with contextlib.suppress(OSError):
                    part.unlink()
                raise
        return size

    def read(self, uid: str, start_frame: int) -> Sound | None:
        """The sound of a take that began at `start_frame`; None if it is not there.  FileError if
        it can't be read."""
        path = self._path(uid)
        if not path.exists():
            return None
        samples, rate = read_audio(path)
        return Sound(start_frame, rate, samples)  # type: ignore[arg-type]

    def sizes(self) -> dict[str, int]:
        """The bytes of each sound by its uid."""
        found = {}
        for path in self._files("*.flac"):
            with contextlib.suppress(OSError):
                if _is_uid(path.stem):
                    found[path.stem] = path.stat().st_size
        return found

    def drop(self, uids: Iterable[str]) -> None:
        """Delete the sounds of these takes, those that are there; FileError if one can't be."""
        with writing(self.folder):
            for uid in uids:
                if _is_uid(uid):
                    self._path(uid).unlink(missing_ok=True)

    def drop_unfinished(self) -> None:
        """Delete what a coach that was killed left half written."""
        for path in self._files(_UNFINISHED):
            with contextlib.suppress(OSError):
                path.unlink()

    def _path(self, uid: str) -> Path:
        """FileError for a uid that is none: it may come from another hand, and lead elsewhere."""
        if not _is_uid(uid):
            raise FileError("a take has a name that is none", str(self.folder), "see the book")
        return self.folder / f"{uid}.flac"

    def _files(self, pattern: str) -> list[Path]:
        try:
            return list(self.folder.glob(pattern))
        except OSError:
            return []


def _is_uid(name: str) -> bool:
    return _UID.fullmatch(name) is not None


def _write(path: Path, sound: Sound) -> None:
    """For nobody else to read."""
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
    with os.fdopen(handle, "wb") as file:
        file.write(_flac(sound))
        file.flush()
        os.fsync(file.fileno())


def _flac(sound: Sound) -> bytes:
    # In memory first: the library would lose what the system says of a full disk.
    import numpy as np

    made = io.BytesIO()
    # What is no number, from a broken driver, would be a crack at full scale.
    samples = np.nan_to_num(np.asarray(sound.samples, np.float32), posinf=0.0, neginf=0.0)
    sound_library().write(made, samples, sound.rate, format="FLAC", subtype="PCM_16")
    return made.getvalue()
