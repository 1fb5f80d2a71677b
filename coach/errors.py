"""The errors a player may see: one sentence that says what, where and what to do."""

from __future__ import annotations


def printable(words: str) -> str:
    """Titles, names and paths from outside without control characters, which could move the cursor
    or do worse, and without halves of letters, which no terminal can show."""
    return "".join(c if c.isprintable() else " " for c in words)


def reason_of(error: Exception) -> str:
    """What the system says of it, for the middle of a sentence: without numbers and paths."""
    return (getattr(error, "strerror", None) or str(error)).lower()


class CoachError(Exception):
    """Something the user can mend.  `exit_status` is what the command returns (2: bad input)."""

    exit_status = 2

    def __init__(self, what: str, where: str = "", hint: str = "") -> None:
        super().__init__(what, where, hint)
        self.what = what
        self.where = where
        self.hint = hint

    def __str__(self) -> str:
        head = f"{self.where}: {self.what}" if self.where else self.what
        return printable(f"{head}; {self.hint}." if self.hint else f"{head}.")


class FileError(CoachError):
    """A file that cannot be read, or holds what it should not."""


class DeviceError(CoachError):
    """A sound or MIDI device that failed; what was played before is kept."""

    exit_status = 3


class DeviceAwayError(DeviceError):
    """A device that stopped and may come back: what runs is lost, and reading on says the same
    until it is back; then reading goes on, or a plain DeviceError says that it stays away."""


def not_installed(
    what: str, package: str, error: type[CoachError] = CoachError, *, brought_by: str = ""
) -> CoachError:
    """The error for a package that is not installed; `what` ends on its verb ("sheets need"), and
    another package may bring it along."""
    hint = f"install it with: python -m pip install {brought_by or package}"
    return error(f"{what} the package {package}, which is not installed", "", hint)
