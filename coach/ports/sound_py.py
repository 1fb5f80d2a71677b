"""The second engine: a sounddevice callback in Python that copies and does nothing else.

The audio thread waits for Python's lock, so a long redraw can lose sound (it is counted as a gap).
"""

from __future__ import annotations

from collections import deque
from typing import Any

import numpy as np

from coach.errors import DeviceError
from coach.ports.click import Samples
from coach.ports.devices import Wanted, import_sounddevice
from coach.ports.ring import copy_wrapped, ring_length, store_wrapped
from coach.ports.settings import SoundSettings
from coach.ports.stream import (
    chosen_devices,
    close_stream,
    device_errors,
    may_return,
    name_of,
    quiet_libraries,
    renew_devices,
    stream_arguments,
)


class PythonEngine:
    """An `Engine` on a callback.  One thread writes each field, the other only reads it."""

    def __init__(
        self,
        settings: SoundSettings,
        input_device: str | None,
        output_device: str | None,
        *,
        inputs: tuple[int, ...],
    ) -> None:
        self._settings = settings
        self._devices: tuple[Wanted, Wanted] = (input_device, output_device)
        self._inputs = inputs
        self.players = max(1, len(inputs))
        self._columns = [channel - 1 for channel in inputs] or [0]
        self._stream: Any = None
        self._going = False
        self._trouble: BaseException | None = None
        self.warnings = 0
        self.name = "sound"

    def open(self) -> None:
        quiet_libraries()
        self._devices = devices = chosen_devices(*self._devices, inputs=self._inputs)
        self.name = name_of(*devices)
        arguments = stream_arguments(self._settings, *devices, inputs=self._inputs)
        sounddevice = import_sounddevice()
        make = sounddevice.Stream if self._inputs else sounddevice.OutputStream
        callback = self._duplex if self._inputs else self._output
        self._trouble = None
        with device_errors(self.name):
            self._stream = make(**arguments, dtype="float32", callback=callback)
        self.rate = int(self._stream.samplerate)
        self.block_frames = self._settings.block_frames
        self.ring_frames = ring_length(self._settings.ring_s * self.rate)
        channels = arguments["channels"][1] if self._inputs else arguments["channels"]
        self._out = np.zeros((self.ring_frames, channels), np.float32)

    def close(self) -> None:
        if self._stream is not None:
            close_stream(self._stream)
            self._stream = None

    @property
    def may_return(self) -> bool:
        return may_return(self._devices[1])

    def again(self) -> None:
        if not self.may_return:
            raise DeviceError("it cannot be opened again", self.name, "start the coach again")
        stream, self._stream = self._stream, None
        if stream is not None:
            stream.close(ignore_errors=True)
        renew_devices()
        self.open()

    @property
    def alive(self) -> bool:
        return self._stream is not None and bool(self._stream.active) and self._trouble is None

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
