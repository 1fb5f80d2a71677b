"""Tunes for tests, invented here."""

from __future__ import annotations

from fractions import Fraction

from coach.core.score.model import Head, Score
from coach.files.abc import read_abc


def tune(
    music: str, *, meter: str = "4/4", unit: str = "1/8", key: str = "C", more: str = ""
) -> str:
    return f"X:1\nT:Invented\nM:{meter}\nL:{unit}\n{more}K:{key}\n{music}\n"


def read(text: str) -> Score:
    return read_abc(text.encode(), "tune.abc")


def heads(score: Score, part: int = 0) -> list[Head]:
    return [head for bar in score.parts[part].bars for head in bar.heads]


def names(score: Score, part: int = 0) -> str:
    return " ".join(head.written.name for head in heads(score, part))


def lengths(score: Score, part: int = 0) -> list[Fraction]:
    """Lengths in quarter notes."""
    return [head.length for head in heads(score, part)]
