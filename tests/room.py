"""Disks without room, as far as they can be had."""

from __future__ import annotations

import contextlib
import resource
import subprocess
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

PAGE = 4096


@contextlib.contextmanager
def no_file_larger(size_bytes: int = 0) -> Iterator[None]:
    """The system lets this process make no file larger than that ("file too large"); Python
    ignores the signal that comes with it."""
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size_bytes, before[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)


@contextlib.contextmanager
def small_disk(size_bytes: int) -> Iterator[Path]:
    """A disk of that size, in memory; the test is skipped for who may not mount one."""
    with tempfile.TemporaryDirectory() as folder:
        mounted = ["mount", "-t", "tmpfs", "-o", f"size={size_bytes}", "tmpfs", folder]
        try:
            done = subprocess.run(mounted, capture_output=True)
        except FileNotFoundError:
            pytest.skip("nothing can be mounted")
        if done.returncode:
            pytest.skip("only root may mount a disk")
        try:
            yield Path(folder)
        finally:
            subprocess.run(["umount", "-l", folder], check=True)


def fill_up(disk: Path) -> Path:
    """Take all room that is left; deleting the file gives it back."""
    path = disk / "fill"
    with path.open("wb", buffering=0) as file, contextlib.suppress(OSError):
        while True:
            file.write(b"x" * PAGE)
    return path
