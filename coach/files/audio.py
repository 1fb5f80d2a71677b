"""Sound files: read as one channel, and written for tests and the demo."""

from __future__ import annotations

import io
from pathlib import Path
from typing import TYPE_CHECKING, Any

from coach.errors import FileError, not_installed
from coach.files.output import refuse_folder, write_whole

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

LOWEST_RATE, HIGHEST_RATE = 16_000, 192_000
LONGEST_S = 2 * 3600
BLOCK_FRAMES = 1 << 16
FORMATS = "WAV, FLAC, OGG, MP3 or AIFF"


def read_audio(
    path: str | Path, start_frame: int = 0, end_frame: int | None = None
) -> tuple[NDArray[np.float32], int]:
    """Samples (float32, shape (n,), contiguous, channels mixed by their mean) and rate in Hz: all,
    or as much as there is of a stretch, and only that is kept.

    WAV, FLAC, OGG, MP3 and AIFF.  FileError: no such file, a folder, not a sound file, empty, no
    such stretch, a rate outside 16000 to 192000, over two hours long, a sample that is not a
    number.
    """
    import numpy as np

    soundfile = sound_library()
    where = str(path)
    try:
        # Opened by us first: Python says why it can't, the library would not.
        with open(path, "rb"), soundfile.SoundFile(where) as file:
            rate = _checked_rate(file.samplerate, where)
            blocks = _blocks(file, where, start_frame, end_frame)
    except FileNotFoundError:
        raise FileError("there is no such file", where, "check the name") from None
    except soundfile.LibsndfileError:
        raise FileError(
            f"this is not a sound file ({FORMATS})", where, "export it as one"
        ) from None
    except (OSError, ValueError, TypeError, RuntimeError) as error:
        refuse_folder(Path(path), "name a sound file in it")
        raise FileError(
            f"this file can't be read ({error})", where, "export it once more"
        ) from None
    samples = np.concatenate(blocks) if blocks else np.zeros(0, np.float32)
    if not len(samples) and start_frame:
        raise FileError("this recording ends before that", where, "check which bars it has")
    if not len(samples):
        raise FileError("there is no sound in this file", where, "record it again")
    if not np.isfinite(samples).all():
        raise FileError("a sample in this file is not a number", where, "export it again")
    return np.ascontiguousarray(samples, np.float32), rate


def sound_library() -> Any:
    """The library that reads and writes sound files; CoachError where it is not installed."""
    try:
        import soundfile
    except ImportError:
        raise not_installed("sound files need", "soundfile") from None
    return soundfile


def _checked_rate(rate: int, where: str) -> int:
    if not LOWEST_RATE <= rate <= HIGHEST_RATE:
        hint = f"record at {LOWEST_RATE} to {HIGHEST_RATE} frames a second"
        raise FileError(f"its rate is {rate} frames a second", where, hint)
    return rate


def _blocks(file: Any, where: str, start: int, end: int | None) -> list[NDArray[np.float32]]:
    """Mono blocks of a stretch; the header's own count of frames is not trusted, and nothing is
    skipped: in some formats a place is only found by reading up to it."""
    import numpy as np

    blocks: list[NDArray[np.float32]] = []
    frames = 0
    while len(block := file.read(BLOCK_FRAMES, dtype="float32", always_2d=True)):
        with np.errstate(invalid="ignore", over="ignore"):  # what is no number is refused later
            mono = block.mean(axis=1, dtype="float32")
        inside = mono[max(0, start - frames) : None if end is None else max(0, end - frames)]
        if len(inside):
            blocks.append(inside)
        frames += len(block)
        if frames > LONGEST_S * file.samplerate:
            raise FileError("this recording is over two hours long", where, "cut it up")
        if end is not None and frames >= end:
            break
    return blocks


def write_audio(path: str | Path, samples: NDArray[np.float32], rate: int) -> None:
    """Write samples, shape (n,) or (n, channels), in the format of the file's suffix.

    FileError if the file cannot be written or the suffix names no format.
    """
    soundfile = sound_library()
    # In memory first: the library would lose what the system says of a full disk.
    made = io.BytesIO()
    try:
        soundfile.write(made, samples, rate, format=Path(path).suffix[1:].upper())
    except (soundfile.LibsndfileError, TypeError, ValueError) as error:
        hint = f"name it as {FORMATS}"
        raise FileError(f"it can't be written ({error})", str(path), hint) from None
    write_whole(Path(path), made.getvalue(), private=True)
