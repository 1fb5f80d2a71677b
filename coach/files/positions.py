"""Where the bars lie in a recording, kept beside it: music.flac has its places in music.bars.json.

    {"format": "evenrun bars", "version": 1, "rate": 44100, "from": "sound",
     "places": [{"beat": "0", "frame": 44100, "sure": 0.93}, {"beat": "7/2", "frame": 121275}, ...]}

`beat` counts quarter notes of the page from the start of the piece, whole or as a fraction;
`frame` counts frames of the recording at `rate`; `sure` (0 to 1) may be left out, it is 1 then;
`from` is "sound" (found in it), "taps" or "hand".  Anyone may write or mend such a file.  Where the
folder of the recording can't be written it lies in the player's own, under `recordings`.
"""

from __future__ import annotations

import hashlib
import json
import re
from fractions import Fraction
from pathlib import Path
from typing import Any

from coach.core.tutti.bars import FIND_AGAIN, Positions
from coach.errors import CoachError, FileError, reason_of
from coach.files.configs import own_folder
from coach.files.output import private_folder, write_whole, writing

FORMAT, VERSION = "evenrun bars", 1
LARGEST_BYTES = 16_000_000
# Python would take "1e999999999" too, and write it out.
_BEAT = re.compile(r"-?[0-9]{1,18}(/[0-9]{1,18}|\.[0-9]{1,18})?")


def positions_path(recording: Path) -> Path:
    """The file that belongs to a recording."""
    return recording.with_suffix(".bars.json")


def kept_positions(recording: Path) -> Path | None:
    """The file of places of a recording, beside it or in the player's own folder; None if neither
    is there."""
    return next((p for p in (_own_path(recording), positions_path(recording)) if p.exists()), None)


def keep_positions(recording: Path, positions: Positions, source: str) -> Path:
    """Write them beside the recording, or where that can't be done in the player's own folder;
    returns where.  FileError if neither can be written."""
    beside, own = positions_path(recording), _own_path(recording)
    try:
        write_positions(beside, positions, source)
    except FileError:
        with writing(own):
            private_folder(own.parent)
        write_positions(own, positions, source)
        return own
    # What was kept there before would be read first.
    own.unlink(missing_ok=True)
    return beside


def _own_path(recording: Path) -> Path:
    """Recordings of the same name in several folders have files of their own."""
    folder = hashlib.sha256(str(recording.resolve().parent).encode()).hexdigest()[:8]
    return own_folder() / "recordings" / positions_path(Path(f"{recording.stem}-{folder}.x")).name


def write_positions(path: Path, positions: Positions, source: str) -> None:
    """Write the file in full or not at all; `source` is "sound" or "taps";
    FileError if it can't."""
    places = [
        {"beat": str(beat), "frame": frame, "sure": sure}
        for beat, frame, sure in zip(positions.beats, positions.frames, positions.sure, strict=True)
    ]
    head = {"format": FORMAT, "version": VERSION, "rate": positions.rate, "from": source}
    write_whole(path, json.dumps({**head, "places": places}, indent=1) + "\n")


def read_positions(path: Path, length_frames: int | None = None) -> Positions:
    """The places in such a file; FileError for anything wrong in it, or where its last place lies
    after `length_frames`, the end of the recording at the file's own rate."""
    whole = _read(path)
    if whole.get("format") != FORMAT or whole.get("version") != VERSION:
        said = f'this is not a file of bars ("format": "{FORMAT}", "version": {VERSION})'
        raise FileError(said, str(path), FIND_AGAIN)
    places = whole.get("places")
    if not isinstance(places, list):
        raise FileError('there is no list of "places" in it', str(path), FIND_AGAIN)
    read = [_place(path, number, place) for number, place in enumerate(places, 1)]
    rate = _whole_number(path, '"rate"', whole.get("rate"))
    beats, frames, sure = zip(*read, strict=True) if read else ((), (), ())
    try:
        positions = Positions(rate, beats, frames, sure)
    except CoachError as error:
        where = f"{path}, {error.where}" if error.where else str(path)
        raise FileError(error.what, where, FIND_AGAIN) from None
    if length_frames is not None and positions.frames[-1] > length_frames:
        raise FileError("its bars go on after the end of the recording", str(path), FIND_AGAIN)
    return positions


def _read(path: Path) -> dict[str, Any]:
    try:
        if path.stat().st_size > LARGEST_BYTES:
            raise FileError("this file is too large for places of bars", str(path), FIND_AGAIN)
        read = json.loads(path.read_text("utf-8-sig"))
    except FileNotFoundError:
        raise FileError("there is no such file", str(path), FIND_AGAIN) from None
    except OSError as error:
        reason = reason_of(error)
        raise FileError(f"it can't be read ({reason})", str(path), FIND_AGAIN) from None
    except (ValueError, RecursionError):
        raise FileError("this is not JSON", str(path), FIND_AGAIN) from None
    if not isinstance(read, dict):
        raise FileError("this is not a file of bars", str(path), FIND_AGAIN)
    return read


def _place(path: Path, number: int, place: Any) -> tuple[Fraction, int, float]:
    said = f"place {number}"
    if not isinstance(place, dict):
        raise FileError(f"{said} is not a beat with its frame", str(path), FIND_AGAIN)
    sure = place.get("sure", 1)
    if isinstance(sure, bool) or not isinstance(sure, int | float) or not 0 <= sure <= 1:
        raise FileError(f'"sure" of {said} is not between 0 and 1', str(path), FIND_AGAIN)
    beat, frame = _beat(path, said, place.get("beat")), place.get("frame")
    return beat, _whole_number(path, f'"frame" of {said}', frame), float(sure)


def _beat(path: Path, said: str, beat: Any) -> Fraction:
    try:
        if isinstance(beat, bool) or not isinstance(beat, str | int):
            raise ValueError
        if not _BEAT.fullmatch(str(beat)):
            raise ValueError
        return Fraction(beat)
    except (ValueError, ZeroDivisionError):
        raise FileError(
            f'"beat" of {said} is not a number of beats', str(path), FIND_AGAIN
        ) from None


def _whole_number(path: Path, said: str, number: Any) -> int:
    if isinstance(number, bool) or not isinstance(number, int) or abs(number) > 1 << 40:
        raise FileError(f"{said} is not a whole number", str(path), FIND_AGAIN)
    return number
