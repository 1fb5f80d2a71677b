"""Opening and closing a PortAudio stream: what both engines share."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from functools import partial
from typing import Any

from coach.errors import DeviceError
from coach.ports.devices import SoundDevice, Wanted, find_pair, find_sound, import_sounddevice
from coach.ports.leaving import leave_open, returns
from coach.ports.settings import SoundSettings

USUAL_RATES = (48000, 44100)
# PortAudio's code for a device that somebody else has open; some hosts only say it in words.
UNAVAILABLE = -9985
# Of a server that is gone PortAudio (19.6) can't let go: closing waits ten minutes for its answer.
JACK = "JACK Audio Connection Kit"
WASAPI = "Windows WASAPI"
IN_USE = re.compile(r"\b(busy|in use)\b", re.IGNORECASE)


def chosen_devices(
    source: Wanted, output: Wanted, *, inputs: Sequence[int]
) -> tuple[SoundDevice | None, SoundDevice]:
    """The (input, output) device meant; no input where no channel is listened to.  Of a device that
    was chosen before, the same one again."""
    if not inputs:
        return None, find_sound(output, "output")
    found, sink = find_pair(source, output)
    _check_channel(max(inputs), found)
    return found, sink


def name_of(source: SoundDevice | None, output: SoundDevice) -> str:
    """Both devices in a message."""
    if source is None or source.number == output.number:
        return output.name
    return f"{source.name}, {output.name}"


def stream_arguments(
    settings: SoundSettings,
    source: SoundDevice | None,
    output: SoundDevice,
    *,
    inputs: Sequence[int],
) -> dict[str, Any]:
    """Keyword arguments for a stream.

    `inputs` are the input channels that are listened to, from 1.  Values are pairs (input, output);
    without `inputs` those of the output alone.
    """
    channels_out = min(2, output.output_channels)
    common: dict[str, Any] = {
        "samplerate": _rate(settings.rate, source, output),
        "blocksize": settings.block_frames,
    }
    sides: dict[str, Any] = {
        "device": output.number,
        "channels": channels_out,
        "latency": settings.latency_s,
    }
    sides |= _converting(output)
    if source is not None:
        heard = {**sides, "device": source.number, "channels": max(inputs)}
        sides = {name: (heard[name], value) for name, value in sides.items()}
    return {**sides, **common}


def _converting(device: SoundDevice) -> dict[str, Any]:
    """WASAPI opens a card that others may use at the one rate at which the system mixes, unless it
    is asked to convert."""
    if device.host != WASAPI:
        return {}
    return {"extra_settings": import_sounddevice().WasapiSettings(auto_convert=True)}


def _check_channel(channel: int, source: SoundDevice) -> None:
    if channel > source.input_channels:
        raise DeviceError(
            f"it has {source.input_channels} input channels, not {channel}",
            source.name,
            "choose another channel: input_channel in sound.toml, or `--seat`",
        )


def _rate(wanted: int, source: SoundDevice | None, output: SoundDevice) -> int:
    """The wanted rate, else one that the devices can do; opening them says what is wrong if there
    is none."""
    own = (output.rate, source.rate) if source else (output.rate,)
    rates = (wanted, *own, *USUAL_RATES)
    return next((rate for rate in rates if _can(rate, source, output)), wanted)


def _can(rate: int, source: SoundDevice | None, output: SoundDevice) -> bool:
    sounddevice = import_sounddevice()
    try:
        sounddevice.check_output_settings(output.number, samplerate=rate, **_converting(output))
        if source is not None:
            sounddevice.check_input_settings(source.number, samplerate=rate, **_converting(source))
    except sounddevice.PortAudioError:
        return False
    return True


@contextmanager
def device_errors(name: str) -> Iterator[None]:
    """PortAudio's errors as a DeviceError."""
    sounddevice = import_sounddevice()
    try:
        yield
    except (sounddevice.PortAudioError, ValueError) as error:
        raise _refusal(error, name) from error


def _refusal(error: Exception, name: str) -> DeviceError:
    reason = str(error).rstrip(".")
    if UNAVAILABLE in error.args or IN_USE.search(reason):
        return DeviceError(
            "another program is using it", name, "close that, or choose another with --device"
        )
    return DeviceError(
        f"it could not be started ({reason})",
        name,
        "close other programs that use it, or choose another with --device",
    )


def renew_devices() -> None:
    """Have PortAudio look at the devices anew: it lists those that were there when it started."""
    sounddevice = import_sounddevice()
    with device_errors("sound"):
        while sounddevice._initialized:
            sounddevice._terminate()
        sounddevice._initialize()


def close_stream(stream: Any) -> None:
    """Close a stream; one whose device does not answer may never return, so it is not waited
    for."""
    if not returns(partial(stream.close, ignore_errors=True)):
        leave_open(stream)


def may_return(device: Wanted) -> bool:
    """Whether a device that was chosen can be opened again when it is back."""
    return isinstance(device, SoundDevice) and device.host != JACK
