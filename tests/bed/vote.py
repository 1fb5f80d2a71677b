"""Join the weights of several trainings, so that their nets vote.

python -m tests.bed.vote OUT.npz FIRST.npz SECOND.npz [...]
"""

from __future__ import annotations

import sys

import numpy as np


def main() -> None:
    out, *several = sys.argv[1:]
    joined = {}
    for number, path in enumerate(several):
        with np.load(path) as stored:
            joined |= {f"{number}.{name}": stored[name] for name in stored.files}
    np.savez_compressed(out, **joined)


if __name__ == "__main__":
    main()
