"""What a sound library must offer to the sound port."""

from __future__ import annotations

from typing import Protocol

from coach.ports.click import Samples


class Engine(Protocol):
    """How frames get in and out.  All counts are frames since the last `prepare`."""

    @property
    def name(self) -> str: ...

    @property
    def rate(self) -> int: ...

    @property
    def block_frames(self) -> int: ...

    @property
    def ring_frames(self) -> int: ...

    @property
    def players(self) -> int:
        """Input channels; 1, a silent one, where nothing is listened to."""
        ...

    @property
    def alive(self) -> bool:
        """The stream still runs."""
        ...

    @property
    def flowing(self) -> bool:
        """Frames go in and out; False once a ring has run over or dry."""
        ...

    @property
    def warnings(self) -> int:
        """How often the driver has flagged lost frames so far."""
        ...

    @property
    def may_return(self) -> bool:
        """Whether `again` can bring it back once it is no longer alive."""
        ...

    def open(self) -> None: ...

    def close(self) -> None: ...

    def again(self) -> None:
        """Close and open the same devices; DeviceError if they are not there.  It may hang."""
        ...

    def prepare(self) -> None:
        """Empty rings, counts at zero."""
        ...

    def go(self) -> None:
        """Let both rings start in one and the same callback."""
        ...

    def taken(self) -> Samples:
        """All that was captured since the last call, float32 (n, players)."""
        ...

    def played(self) -> int: ...

    def store(self, frame: int, samples: Samples) -> None:
        """Put output samples at `frame` and on."""
        ...
