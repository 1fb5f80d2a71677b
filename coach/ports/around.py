"""A port around another: everything is passed on, and who inherits changes what it is for."""

from __future__ import annotations

from typing import Protocol, Self

from coach.core.take import Chunk
from coach.core.timeline import Plan


class Listening(Protocol):
    """The port of a session."""

    @property
    def rate(self) -> int: ...
    @property
    def ended(self) -> bool: ...
    def earliest_frame(self) -> int: ...
    def position(self) -> int: ...
    def begin(self, plan: Plan) -> None: ...
    def end(self) -> None: ...
    def read(self) -> Chunk: ...


class TimedPort(Listening, Protocol):
    """A port that can also put the computer's time on its axis of frames."""

    def open(self) -> object: ...
    def close(self) -> None: ...
    def frame_at(self, at_s: float) -> float: ...
    def time_at(self, frame: float) -> float: ...


class Around:
    """The same port."""

    def __init__(self, base: Listening) -> None:
        self._base = base

    @property
    def rate(self) -> int:
        return self._base.rate

    @property
    def ended(self) -> bool:
        return self._base.ended

    def earliest_frame(self) -> int:
        return self._base.earliest_frame()

    def position(self) -> int:
        return self._base.position()

    def begin(self, plan: Plan) -> None:
        self._base.begin(plan)

    def end(self) -> None:
        self._base.end()

    def read(self) -> Chunk:
        return self._base.read()


class TimedAround(Around):
    """The same port, timed; also a context manager, open inside."""

    _base: TimedPort

    def __init__(self, base: TimedPort) -> None:
        super().__init__(base)

    def __enter__(self) -> Self:
        return self.open()

    def __exit__(self, *_: object) -> None:
        self.close()

    def open(self) -> Self:
        self._base.open()
        return self

    def close(self) -> None:
        self._base.close()

    def frame_at(self, at_s: float) -> float:
        return self._base.frame_at(at_s)

    def time_at(self, frame: float) -> float:
        return self._base.time_at(frame)
