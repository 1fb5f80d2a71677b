"""The two kinds of small nets of the follower, run by numpy.

`AttackNet` looks at the features around an expected note (inputs.py) and gives, for every hop, how
well the attack (and the take-over of the new pitch) fits there, and how well "it was not played"
does.  `NoteNet` looks at one attack closely (patch.py) and says whether the note was there, on
which pitch it settled, whether it was split and whether it spoke.  Weights: model/weights.npz; see
model/CARD.md.
"""

from __future__ import annotations

import math
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
    """Scores every hop for the attack of one expected note."""

    def __init__(self, weights: Weights) -> None:
        self._weights = weights

    def scores(self, inputs: Rows) -> Scores:
        """`inputs` (T + BACK_HOPS + AHEAD_HOPS, CHANNELS): scores for the T hops inside."""
        hidden = _hidden(inputs, self._weights)
        out = hidden @ self._weights["out.w"] + self._weights["out.b"]
        return Scores(out[:, 0], out[:, 1], hidden)

    def absent(self, hidden: Rows) -> NDArray[np.float32]:
        """The score of "not played" after each hop of a window, from what was seen so far."""
        counts = np.arange(1, len(hidden) + 1, dtype=np.float32)[:, None]
        means = np.cumsum(hidden, axis=0) / counts
        tops = np.maximum.accumulate(hidden, axis=0)
        pooled = np.concatenate([means, tops], axis=1)
        score: NDArray[np.float32] = pooled @ self._weights["none.w"] + self._weights["none.b"]
        return score


def _hidden(inputs: Rows, w: Weights) -> Rows:
    hidden: Rows = np.maximum(inputs @ w["in.w"] + w["in.b"], 0)
    for number, offsets in enumerate(LAYERS):
        hidden = _layer(hidden, offsets, w[f"l{number}.w"], w[f"l{number}.b"])
    return hidden


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
    """Looks at one attack closely."""

    def __init__(self, weights: Weights) -> None:
        self._weights = weights

    def judge(self, patch: Rows, context: Rows) -> tuple[NDArray[np.float32], dict[str, float]]:
        """(Chances of the PITCH_CLASSES and of "no pitch", chances by SETTLED) of one attack."""
        w = self._weights
        each = np.maximum(patch @ w["stretch.w"] + w["stretch.b"], 0).ravel()
        hidden = np.maximum(np.concatenate([each, context]) @ w["mix.w"] + w["mix.b"], 0)
        hidden = np.maximum(hidden @ w["deep.w"] + w["deep.b"], 0)
        pitch = hidden @ w["pitch.w"] + w["pitch.b"]
        chances = np.exp(pitch - pitch.max())
        scores = hidden @ w["settled.w"] + w["settled.b"]
        others = {name: _chance(float(s)) for name, s in zip(SETTLED, scores, strict=True)}
        return chances / chances.sum(), others


def _chance(score: float) -> float:
    return 1 / (1 + math.exp(-max(-30.0, min(30.0, score))))


@cache
def nets() -> tuple[AttackNet, NoteNet]:
    """The nets with the weights that come with the coach."""
    path = resources.files("coach.hear.follow").joinpath("model", "weights.npz")
    with path.open("rb") as file:
        return nets_of(file)


def nets_of(file: IO[bytes]) -> tuple[AttackNet, NoteNet]:
    """The nets with weights as tests/bed/train.py stores them."""
    with np.load(file, allow_pickle=False) as stored:
        weights = {name: stored[name].astype(np.float32) for name in stored.files}

    def part(head: str) -> Weights:
        return {k.removeprefix(head): v for k, v in weights.items() if k.startswith(head)}

    return AttackNet(part("attack.")), NoteNet(part("note."))
