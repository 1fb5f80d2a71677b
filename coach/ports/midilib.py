"""The library that MIDI goes through: python-rtmidi, or supriya-midi from Python 3.13 on.

python-rtmidi has no wheels for those.  Both are the C++ library RtMidi, asked in nearly the same
words; here the other one is given the first one's.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable
from types import SimpleNamespace
from typing import Any

from coach.errors import DeviceError, not_installed

# The one that is installed by default.
PACKAGE = "python-rtmidi" if sys.version_info < (3, 13) else "supriya-midi"
NOT_STARTED = "close other programs that use MIDI, or set midi_api in configs/sound.toml"


def midi_library() -> Any:
    """The module rtmidi, or what can stand for it; DeviceError where neither is there."""
    try:
        import rtmidi
    except ImportError:
        return _stand_in()
    return rtmidi


def _stand_in() -> Any:
    try:
        import supriya_midi
    except ModuleNotFoundError:
        raise not_installed("MIDI needs", PACKAGE, DeviceError) from None
    except ImportError as error:
        raise DeviceError(f"MIDI did not start ({error})", "", NOT_STARTED) from error

    class MidiIn(supriya_midi.MidiIn):
        def set_callback(self, callback: Any, data: Any = None) -> None:
            def called(message: Iterable[int], delta_s: float, data: Any) -> None:
                callback((message, delta_s), data)

            super().set_callback(called, data)

    apis = {f"API_{api.name}": api for api in supriya_midi.RtMidiAPI}
    return SimpleNamespace(
        MidiIn=MidiIn,
        MidiOut=supriya_midi.MidiOut,
        RtMidiError=supriya_midi.RtMidiError,
        # So is a system called that lets nobody in.
        SystemError=RuntimeError,
        **apis,
    )
