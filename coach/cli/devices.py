"""`coach devices`: what can be listened to, and where the click can sound."""

from __future__ import annotations

import argparse
from typing import Any


def add(commands: Any) -> None:
    parser = commands.add_parser("devices", help="list sound and MIDI devices")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    from rich.console import Console

    from coach.cli.opening import settings
    from coach.ports.devices import list_devices
    from coach.screen import DeviceRow, devices_table

    found = list_devices(settings().midi_api)
    rows = [_sound_row(d, "sound in", d.default_input, DeviceRow) for d in found.sound_inputs]
    rows += [_sound_row(d, "sound out", d.default_output, DeviceRow) for d in found.sound_outputs]
    rows += [DeviceRow(d.number, d.name, "MIDI in") for d in found.midi_inputs]
    rows += [DeviceRow(d.number, d.name, "MIDI out") for d in found.midi_outputs]
    console = Console()
    console.print(devices_table(rows))
    for trouble in found.troubles:
        console.print(trouble, markup=False)
    return 0


def _sound_row(device: Any, kind: str, chosen: bool, row: Any) -> Any:
    name = f"{device.name} ({device.host})"
    channels = (device.input_channels, device.output_channels)
    return row(device.number, name, kind, *channels, device.rate, chosen)
