"""What both engines on PortAudio share: choosing the devices, opening and closing the stream."""

from __future__ import annotations

from abc import ABC, abstractmethod
from typing import Any

import numpy as np

from coach.errors import DeviceError
from coach.ports.devices import Wanted
from coach.ports.quiet import quiet_libraries
from coach.ports.ring import ring_length
from coach.ports.settings import SoundSettings
from coach.ports.stream import (
    chosen_devices,
    close_stream,
    device_errors,
    may_return,
    name_of,
    renew_devices,
    stream_arguments,
)


class StreamEngine(ABC):
    """The half of an `Engine` that the way in which frames move has no part in."""

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
        self._stream: Any = None
        self.name = "sound"

    @abstractmethod
    def _made(self, arguments: dict[str, Any]) -> Any:
        """The stream for these arguments of PortAudio, not yet started."""

    def open(self) -> None:
        quiet_libraries()
        self._devices = devices = chosen_devices(*self._devices, inputs=self._inputs)
        self.name = name_of(*devices)
        arguments = stream_arguments(self._settings, *devices, inputs=self._inputs)
        with device_errors(self.name):
            self._stream = self._made(arguments)
        self.rate = int(self._stream.samplerate)
        self.block_frames = self._settings.block_frames
        self.ring_frames = ring_length(self._settings.ring_s * self.rate)
        channels = arguments["channels"]
        self._channels = channels[1] if self._inputs else channels
        self._out = np.zeros((self.ring_frames, self._channels), np.float32)

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
        return self._stream is not None and bool(self._stream.active)
