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
from coach.ports.ring import store_wrapped
from coach.ports.sound import StreamEngine
from coach.ports.stream import device_errors

BYTES = 4
LOOKS = 500
LOOK_EVERY_S = 0.002
TRIES = 20


class CEngine(StreamEngine):
    """An `Engine` on rtmixer."""

    _play: Any = None
    _record: Any = None

    def _made(self, arguments: dict[str, Any]) -> Any:
        rtmixer = _library()
        self._rings = rtmixer.RingBuffer
        make = rtmixer.MixerAndRecorder if self._inputs else rtmixer.Mixer
        return make(**arguments)

    def open(self) -> None:
        super().open()
        self._in = np.zeros((self.ring_frames, self.players), np.float32)

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
