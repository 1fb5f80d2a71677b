"""The process that engraves: jobs as JSON on the standard input, pictures as JSON on the output."""

from __future__ import annotations

import contextlib
import json
import sys
from typing import Any

from coach.files.engrave.lines import lines_of
from coach.files.engrave.music import Music, Voice

# 94 MB were measured for a part of 390 bars; at this much something runs away.
MEMORY_LIMIT_BYTES = 3_000_000_000


def main() -> None:
    _limit_memory()
    jobs = [_job(fields) for fields in json.load(sys.stdin.buffer)]
    pictures = [
        [[(one.svg, one.width_mm, one.height_mm) for one in line] for line in lines_of(job)]
        for job in jobs
    ]
    json.dump(pictures, sys.stdout)


def _limit_memory() -> None:
    """Where the platform can."""
    with contextlib.suppress(ImportError, ValueError, OSError):
        import resource

        resource.setrlimit(resource.RLIMIT_AS, (MEMORY_LIMIT_BYTES, MEMORY_LIMIT_BYTES))
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def _job(fields: dict[str, Any]) -> Music:
    voices = (
        Voice(voice["xml"], tuple(voice["underlined"]), tuple(voice["overlined"]))
        for voice in fields.pop("voices")
    )
    return Music(tuple(voices), **fields)


if __name__ == "__main__":
    main()
