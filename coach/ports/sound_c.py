"""The default engine: rtmixer moves samples between the device and two rings in C.

No Python runs in the audio thread, so neither a redraw nor the garbage collector can lose sound.
rtmixer ends a ring's action when the ring runs over (record) or dry (play).
"""

from __future__ import annotations

from typing import Any

import numpy as np

from coach.errors import DeviceError, not_installed
from coach.ports.click import Samples
from coach.ports.clock import wait
from coach.ports.devices import Wanted
from coach.ports.ring import ring_length, store_wrapped
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

BYTES = 4
LOOKS = 500
LOOK_EVERY_S = 0.002
TRIES = 20


class CEngine:
    """An `Engine` on rtmixer."""

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
        self._play: Any = None
        self._record: Any = None
        self.name = "sound"

    def open(self) -> None:
        quiet_libraries()
        self._devices = devices = chosen_devices(*self._devices, inputs=self._inputs)
        self.name = name_of(*devices)
        arguments = stream_arguments(self._settings, *devices, inputs=self._inputs)
        rtmixer = _library()
        make = rtmixer.MixerAndRecorder if self._inputs else rtmixer.Mixer
        with device_errors(self.name):
            self._stream = make(**arguments)
        self.rate = int(self._stream.samplerate)
        self.block_frames = self._settings.block_frames
        self.ring_frames = ring_length(self._settings.ring_s * self.rate)
        channels = arguments["channels"]
        self._channels = channels[1] if self._inputs else channels
        self._out = np.zeros((self.ring_frames, self._channels), np.float32)
        self._in = np.zeros((self.ring_frames, self.players), np.float32)
        self._rings = rtmixer.RingBuffer

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

    @property
    def flowing(self) -> bool:
        actions = self._stream.actions
        return self._play in actions and (not self._inputs or self._record in actions)

    @property
    def warnings(self) -> int:
        stats = self._record.stats if self._inputs else self._play.stats
        return int(stats.input_overflows + stats.output_underflows)

    def prepare(self) -> None:
        self._cancel()
        self._play_ring = self._rings(BYTES * self._channels, buffer=self._out)
        self._record_ring = self._rings(BYTES * self.players, buffer=self._in)
        self._stored = 0
        self._taken = 0

    def go(self) -> None:
        """Both actions are queued before the stream starts, so the first callback starts both;
        on a running stream a callback can fall between the two, which shows and is mended."""
        if self._stream.active:
            self._go_running()
            return
        self._queue()
        with device_errors(self.name):
            self._stream.start()

    def taken(self) -> Samples:
        if not self._inputs:
            before, self._taken = self._taken, self.played()
            return np.zeros((self._taken - before, self.players), np.float32)
        shape = (self._record_ring.read_available, self.players)
        samples = np.empty(shape, np.float32)
        self._record_ring.readinto(samples)
        self._taken += len(samples)
        return samples

    def played(self) -> int:
        return int(self._stored - self._play_ring.read_available)

    def store(self, frame: int, samples: Samples) -> None:
        store_wrapped(self._out, frame, samples)
        beyond = frame + len(samples) - self._stored
        if beyond > 0:
            self._play_ring.advance_write_index(beyond)
            self._stored += beyond

    def _queue(self) -> None:
        self._play = self._stream.play_ringbuffer(self._play_ring)
        if self._inputs:
            channels = list(self._inputs)
            self._record = self._stream.record_ringbuffer(self._record_ring, channels=channels)

    def _go_running(self) -> None:
        for _ in range(TRIES):
            self._queue()
            if not self._inputs or self._in_step():
                return
            self._cancel()
            self._rewind()
        hint = "use one device for both, with --device and --output-device"
        raise DeviceError("its input and output do not run together", self.name, hint)

    def _rewind(self) -> None:
        """The same output once more, from its first frame."""
        self._play_ring = self._rings(BYTES * self._channels, buffer=self._out)
        self._play_ring.advance_write_index(self._stored)
        self._record_ring = self._rings(BYTES * self.players, buffer=self._in)

    def _in_step(self) -> bool:
        """Whether input and output stand at the same frame (seen between two callbacks)."""
        for _ in range(LOOKS):
            before, played = self._record_ring.read_available, self.played()
            if before == self._record_ring.read_available and before > 0 and played > 0:
                return bool(before == played)
            wait(LOOK_EVERY_S)
        return False

    def _cancel(self) -> None:
        """Stop both actions and wait until the audio thread has let go of the rings."""
        mine = [a for a in (self._play, self._record) if a is not None]
        for action in mine:
            if action in self._stream.actions:
                self._stream.cancel(action)
        for _ in range(LOOKS):
            if not self._stream.actions or not self._stream.active:
                return
            wait(LOOK_EVERY_S)
        raise DeviceError("it does not answer", self.name, "unplug it and plug it in again")


def _library() -> Any:
    try:
        import rtmixer
    except ImportError:
        raise not_installed("sound needs", "rtmixer", DeviceError) from None
    return rtmixer
