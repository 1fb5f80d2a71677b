"""Opening and closing a PortAudio stream: what both engines share."""

from __future__ import annotations

import atexit
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any

from coach.errors import DeviceError
from coach.ports.devices import SoundDevice, find_sound, import_sounddevice
from coach.ports.settings import SoundSettings

CLOSE_LIMIT_S = 1.0


def stream_arguments(
    settings: SoundSettings,
    input_device: str | None,
    output_device: str | None,
    *,
    inputs: Sequence[int],
) -> tuple[dict[str, Any], str]:
    """Keyword arguments for a stream, and the name of the devices for messages.

    `inputs` are the input channels that are listened to, from 1.  Values are pairs (input, output);
    without `inputs` those of the output alone.
    """
    output = find_sound(output_device, "output")
    channels_out = min(2, output.output_channels)
    if not inputs:
        rate = _rate(settings.rate, output=output.number)
        return _arguments(settings, output.number, channels_out, settings.latency_s, rate), (
            output.name
        )
    source = find_sound(input_device, "input")
    _check_channel(max(inputs), source)
    rate = _rate(settings.rate, output=output.number, input_=source.number)
    name = source.name if source.number == output.number else f"{source.name}, {output.name}"
    arguments = _arguments(
        settings,
        (source.number, output.number),
        (max(inputs), channels_out),
        (settings.latency_s, settings.latency_s),
        rate,
    )
    return arguments, name


def _arguments(
    settings: SoundSettings, device: Any, channels: Any, latency: Any, rate: float
) -> dict[str, Any]:
    return {
        "device": device,
        "channels": channels,
        "latency": latency,
        "samplerate": rate,
        "blocksize": settings.block_frames,
    }


def _check_channel(channel: int, source: SoundDevice) -> None:
    if channel > source.input_channels:
        raise DeviceError(
            f"it has {source.input_channels} input channels, not {channel}",
            source.name,
            "choose another channel: input_channel in sound.toml, or `--seat`",
        )


def _rate(wanted: int, *, output: int, input_: int | None = None) -> int:
    """The wanted rate if the devices can do it, else the output's own."""
    sounddevice = import_sounddevice()
    try:
        sounddevice.check_output_settings(output, samplerate=wanted)
        if input_ is not None:
            sounddevice.check_input_settings(input_, samplerate=wanted)
    except sounddevice.PortAudioError:
        return int(sounddevice.query_devices(output)["default_samplerate"])
    return wanted


@contextmanager
def device_errors(name: str) -> Iterator[None]:
    """PortAudio's errors as a DeviceError."""
    sounddevice = import_sounddevice()
    try:
        yield
    except (sounddevice.PortAudioError, ValueError) as error:
        reason = str(error).rstrip(".")
        raise DeviceError(
            f"it could not be started ({reason})",
            name,
            "close other programs that use it, or choose another with --device",
        ) from error


def close_stream(stream: Any) -> None:
    """Close a stream; one whose device is gone may never return, so it is not waited for."""
    if stream.active:
        stream.close()
        return
    if not _returns(lambda: stream.close(ignore_errors=True)):
        # PortAudio would wait for the same dead device again at exit.
        handler = getattr(import_sounddevice(), "_exit_handler", None)
        if handler is not None:
            atexit.unregister(handler)


def _returns(action: Callable[[], object]) -> bool:
    worker = threading.Thread(target=action, daemon=True)
    worker.start()
    worker.join(CLOSE_LIMIT_S)
    return not worker.is_alive()
