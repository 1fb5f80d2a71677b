"""The two small nets of the follower, run by numpy.

`AttackNet` looks at the features around an expected note (inputs.py) and gives, for every hop, how
well the attack (and the take-over of the new pitch) fits there, and how well "it was not played"
does.  `NoteNet` looks at one attack closely (patch.py) and says whether the note was there, on
which pitch it settled, whether it was split and whether it spoke.  Weights: model/weights.npz; see
model/CARD.md.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import IO

import numpy as np
from numpy.typing import NDArray

from coach.hear.follow.frames import Rows

Weights = dict[str, NDArray[np.float32]]

# Hops that each layer of the attack net sees, relative to its output.
LAYERS = (
    (-2, -1, 0, 1, 2),
    (-4, -2, 0, 2),
    (-9, -6, -3, 0),
    (-24, -16, -8, 0),
)
BACK_HOPS = -sum(offsets[0] for offsets in LAYERS)
AHEAD_HOPS = sum(offsets[-1] for offsets in LAYERS)
SETTLED = ("there", "split", "muffled")


@dataclass(frozen=True, slots=True)
class Scores:
    """Log scores a hop of the attack and of the new pitch taking over, and of "not played"."""

    attack: NDArray[np.float32]
    takeover: NDArray[np.float32]
    hidden: Rows


class AttackNet:
    def __init__(self, weights: Weights) -> None:
        self._w = weights

    def scores(self, inputs: Rows) -> Scores:
        """`inputs` (T + BACK_HOPS + AHEAD_HOPS, CHANNELS): scores for the T hops inside."""
        w = self._w
        hidden = np.maximum(inputs @ w["in.w"] + w["in.b"], 0)
        for number, offsets in enumerate(LAYERS):
            hidden = _layer(hidden, offsets, w[f"l{number}.w"], w[f"l{number}.b"])
        out = hidden @ w["out.w"] + w["out.b"]
        return Scores(out[:, 0], out[:, 1], hidden)

    def absent(self, hidden: Rows) -> NDArray[np.float32]:
        """The score of "not played" after each hop of a window, from what was seen so far."""
        counts = np.arange(1, len(hidden) + 1, dtype=np.float32)[:, None]
        means = np.cumsum(hidden, axis=0) / counts
        pooled = np.concatenate([means, np.maximum.accumulate(hidden, axis=0)], axis=1)
        score: NDArray[np.float32] = pooled @ self._w["none.w"] + self._w["none.b"]
        return score


def _layer(
    hidden: Rows, offsets: tuple[int, ...], weights: NDArray[np.float32], bias: NDArray[np.float32]
) -> Rows:
    """A residual dilated convolution; loses the hops that its offsets reach beyond."""
    back, ahead = -offsets[0], offsets[-1]
    count = len(hidden) - back - ahead
    width = hidden.shape[1]
    total = hidden[back + offsets[0] : back + offsets[0] + count] @ weights[:width] + bias
    for k, o in enumerate(offsets[1:], 1):
        total += hidden[back + o : back + o + count] @ weights[k * width : (k + 1) * width]
    made: Rows = hidden[back : back + count] + np.maximum(total, 0)
    return made


class NoteNet:
    def __init__(self, weights: Weights) -> None:
        self._w = weights

    def judge(self, patch: Rows, context: Rows) -> tuple[NDArray[np.float32], dict[str, float]]:
        """(Chances of the PITCH_CLASSES and of "no pitch", chances by SETTLED) of one attack."""
        w = self._w
        each = np.maximum(patch @ w["stretch.w"] + w["stretch.b"], 0)
        joined = np.concatenate([each.ravel(), context])
        hidden = np.maximum(joined @ w["mix.w"] + w["mix.b"], 0)
        hidden = np.maximum(hidden @ w["deep.w"] + w["deep.b"], 0)
        pitch = hidden @ w["pitch.w"] + w["pitch.b"]
        settled = hidden @ w["settled.w"] + w["settled.b"]
        chances = np.exp(pitch - pitch.max())
        others = 1 / (1 + np.exp(-np.clip(settled, -30, 30)))
        return chances / chances.sum(), dict(zip(SETTLED, map(float, others), strict=True))


@cache
def nets() -> tuple[AttackNet, NoteNet]:
    """The nets with the weights that come with the coach."""
    path = resources.files("coach.hear.follow").joinpath("model", "weights.npz")
    with path.open("rb") as file:
        return nets_of(file)


def nets_of(file: IO[bytes]) -> tuple[AttackNet, NoteNet]:
    """The nets with stored weights (as tests/bed/train.py stores them)."""
    with np.load(file) as stored:
        weights = {name: stored[name].astype(np.float32) for name in stored.files}

    def part(name: str) -> Weights:
        return {k.removeprefix(name): v for k, v in weights.items() if k.startswith(name)}

    return AttackNet(part("attack.")), NoteNet(part("note."))
