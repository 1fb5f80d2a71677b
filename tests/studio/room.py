"""A room around the player: what comes out of the loudspeakers comes back, block by block.

The response is cut into blocks as long as those of the sound, each block of sound is transformed
once, and the spectra are multiplied and summed (convolution partitioned evenly, overlap-save), so
the echo of a block is there in the call that brings it.  A second of response at 256 frames a block
takes some 0.2 ms.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.fft import irfft, rfft

Samples = NDArray[np.float32]


class Room:
    """Answers blocks of `block_frames` with `response` (float32, (n,))."""

    def __init__(self, response: Samples, block_frames: int) -> None:
        self._block = block_frames
        count = max(1, -(-len(response) // block_frames))
        padded = np.zeros(count * block_frames, np.float32)
        padded[: len(response)] = response
        # The last block of the response first: it belongs to the oldest block of the sound.
        self._answer = rfft(padded.reshape(count, block_frames)[::-1], 2 * block_frames)
        # Every spectrum is kept twice, so that the last `count` of them always lie in one piece.
        self._heard = np.zeros((2 * count, block_frames + 1), np.complex64)
        self._count, self._at = count, 0
        self._pair = np.zeros(2 * block_frames, np.float32)
        self._next_frame: int | None = None

    def answer(self, frame: int, heard: Samples) -> Samples:
        """The echo in the block that begins at `frame`; blocks that were left out were silent."""
        missed = 0 if self._next_frame is None else (frame - self._next_frame) // self._block
        for _ in range(min(missed, self._count + 1)):
            self._take(np.zeros(self._block, np.float32))
        self._next_frame = frame + self._block
        self._take(heard)
        spectra = self._heard[self._at : self._at + self._count]
        spectrum = np.einsum("ij,ij->j", spectra, self._answer)
        return np.asarray(irfft(spectrum)[self._block :])

    def _take(self, heard: Samples) -> None:
        self._pair[: self._block] = self._pair[self._block :]
        self._pair[self._block :] = heard
        spectrum = rfft(self._pair)
        self._heard[self._at] = self._heard[self._at + self._count] = spectrum
        self._at = (self._at + 1) % self._count
