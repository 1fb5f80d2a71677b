"""`python -m coach`, and what the command `coach` runs."""

import sys

from coach.cli import main


def run() -> None:
    """One command, to the very end of the process."""
    status = main()
    stream = sys.modules.get("coach.ports.stream")
    if stream is not None:
        stream.leave(status)
    sys.exit(status)


if __name__ == "__main__":
    run()
