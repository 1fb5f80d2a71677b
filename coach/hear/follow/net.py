"""The two kinds of small nets of the follower, run by numpy.

`AttackNet` looks at the features around an expected note (inputs.py) and gives, for every hop, how
well the attack (and the take-over of the new pitch) fits there, and how well "it was not played"
does.  `NoteNet` looks at one attack closely (patch.py) and says whether the note was there, on
which pitch it settled, whether it was split and whether it spoke.  Weights: model/weights.npz; see
model/CARD.md.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
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
    """One or more nets of one kind, trained on different takes: the mean of their log scores."""

    def __init__(self, members: Sequence[Weights]) -> None:
        self._members = tuple(members)

    def scores(self, inputs: Rows) -> Scores:
        """`inputs` (T + BACK_HOPS + AHEAD_HOPS, CHANNELS): scores for the T hops inside."""
        hidden = [_hidden(inputs, w) for w in self._members]
        outs = [h @ w["out.w"] + w["out.b"] for h, w in zip(hidden, self._members, strict=True)]
        out: Rows = np.stack(outs).mean(axis=0)
        return Scores(out[:, 0], out[:, 1], np.concatenate(hidden, axis=1))

    def absent(self, hidden: Rows) -> NDArray[np.float32]:
        """The score of "not played" after each hop of a window, from what was seen so far."""
        counts = np.arange(1, len(hidden) + 1, dtype=np.float32)[:, None]
        means = np.cumsum(hidden, axis=0) / counts
        tops = np.maximum.accumulate(hidden, axis=0)
        score = np.zeros(len(hidden), np.float32)
        start = 0
        for w in self._members:
            width = w["out.w"].shape[0]
            inside = slice(start, start + width)
            pooled = np.concatenate([means[:, inside], tops[:, inside]], axis=1)
            score += (pooled @ w["none.w"] + w["none.b"]) / len(self._members)
            start += width
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
    """One or more nets of one kind; the mean of their log chances.  A net that was taught without
    the loudness (an older one) is not shown it, and says nothing of what it was not taught."""

    def __init__(self, members: Sequence[Weights]) -> None:
        self._members = tuple(members)

    def judge(self, patch: Rows, context: Rows) -> tuple[NDArray[np.float32], dict[str, float]]:
        """(Chances of the PITCH_CLASSES and of "no pitch", chances by SETTLED) of one attack."""
        outs = [_note_scores(patch, context, w) for w in self._members]
        pitch = sum((_log_chances(p) for p, _ in outs[1:]), _log_chances(outs[0][0]))
        chances = np.exp((pitch - pitch.max()) / len(outs))
        others = {
            name: _mean_chance([float(s[k]) for _, s in outs if k < len(s)])
            for k, name in enumerate(SETTLED)
        }
        return chances / chances.sum(), others


def _note_scores(patch: Rows, context: Rows, w: Weights) -> tuple[Rows, Rows]:
    """Log scores of the pitch classes, and of what is SETTLED."""
    each = np.maximum(patch @ w["stretch.w"] + w["stretch.b"], 0).ravel()
    joined = np.concatenate([each, context[: len(w["mix.w"]) - len(each)]])
    hidden = np.maximum(joined @ w["mix.w"] + w["mix.b"], 0)
    hidden = np.maximum(hidden @ w["deep.w"] + w["deep.b"], 0)
    return hidden @ w["pitch.w"] + w["pitch.b"], hidden @ w["settled.w"] + w["settled.b"]


def _log_chances(scores: Rows) -> Rows:
    down: Rows = scores - scores.max()
    logs: Rows = down - np.log(np.exp(down).sum())
    return logs


def _mean_chance(scores: Sequence[float]) -> float:
    mean = max(-30.0, min(30.0, sum(scores) / len(scores)))
    return 1 / (1 + math.exp(-mean))


@cache
def nets() -> tuple[AttackNet, NoteNet]:
    """The nets with the weights that come with the coach."""
    path = resources.files("coach.hear.follow").joinpath("model", "weights.npz")
    with path.open("rb") as file:
        return nets_of(file)


def nets_of(file: IO[bytes]) -> tuple[AttackNet, NoteNet]:
    """The nets with stored weights: those of one training (as tests/bed/train.py stores them), or
    of several, their names after "0.", "1." and so on (as tests/bed/vote.py does)."""
    with np.load(file) as stored:
        weights = {name: stored[name].astype(np.float32) for name in stored.files}
    members = sorted({name.split(".")[0] for name in weights if name[0].isdigit()})

    def parts(kind: str) -> list[Weights]:
        heads = [f"{member}.{kind}." for member in members] or [f"{kind}."]
        return [
            {k.removeprefix(head): v for k, v in weights.items() if k.startswith(head)}
            for head in heads
        ]

    return AttackNet(parts("attack")), NoteNet(parts("note"))
