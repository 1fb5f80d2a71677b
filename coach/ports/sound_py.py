"""The second engine: a sounddevice callback in Python that copies and does nothing else.

The audio thread waits for Python's lock, so a long redraw can lose sound (it is counted as a gap).
"""

from __future__ import annotations

from collections import deque
from typing import Any

import numpy as np

from coach.ports.click import Samples
from coach.ports.devices import import_sounddevice
from coach.ports.ring import copy_wrapped, store_wrapped
from coach.ports.sound import StreamEngine
from coach.ports.stream import device_errors


class PythonEngine(StreamEngine):
    """An `Engine` on a callback.  One thread writes each field, the other only reads it."""

    _going = False
    _trouble: BaseException | None = None
    warnings = 0

    def _made(self, arguments: dict[str, Any]) -> Any:
        self._trouble = None
        self._columns = [channel - 1 for channel in self._inputs] or [0]
        sounddevice = import_sounddevice()
        make = sounddevice.Stream if self._inputs else sounddevice.OutputStream
        callback = self._duplex if self._inputs else self._output
        return make(**arguments, dtype="float32", callback=callback)

    @property
    def alive(self) -> bool:
        return super().alive and self._trouble is None

    @property
    def flowing(self) -> bool:
        return self._going

    def prepare(self) -> None:
        self._going = False
        self._blocks: deque[Samples] = deque()
        self._captured = self._taken = self._stored = 0
        self.warnings = 0

    def go(self) -> None:
        self._going = True
        if not self._stream.active:
            with device_errors(self.name):
                self._stream.start()

    def taken(self) -> Samples:
        blocks = [self._blocks.popleft() for _ in range(len(self._blocks))]
        samples = np.concatenate(blocks) if blocks else np.zeros((0, self.players), np.float32)
        self._taken += len(samples)
        return samples

    def played(self) -> int:
        return self._captured

    def store(self, frame: int, samples: Samples) -> None:
        store_wrapped(self._out, frame, samples)
        self._stored = max(self._stored, frame + len(samples))

    def _output(self, outdata: Any, frames: int, time: Any, status: Any) -> None:
        self._duplex(np.zeros((frames, 1)), outdata, frames, time, status)

    def _duplex(self, indata: Any, outdata: Any, frames: int, _time: Any, status: Any) -> None:
        """The audio thread: copy in, copy out.  An exception is parked for the reader."""
        try:
            if status:
                self.warnings += 1
            over = self._captured + frames > self._taken + self.ring_frames
            if not self._going or over or self._captured + frames > self._stored:
                self._going = False
                outdata[:] = 0
                return
            self._blocks.append(indata[:, self._columns].astype(np.float32))
            copy_wrapped(self._out, self._captured, outdata)
            self._captured += frames
        except Exception as trouble:
            self._trouble = trouble
            outdata[:] = 0
