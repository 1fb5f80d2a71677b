"""`python -m coach`, and what the command `coach` runs."""

import sys

from coach.cli import main


def run() -> None:
    """One command, to the very end of the process."""
    status = main()
    leaving = sys.modules.get("coach.ports.leaving")
    if leaving is not None:
        leaving.leave(status)
    sys.exit(status)


if __name__ == "__main__":
    run()
