"""A SoundFont of one sample, made by hand: the chunks of the SoundFont 2.04 specification, from
memory."""

from __future__ import annotations

import io
import struct
from pathlib import Path

import numpy as np
import soundfile

INSTRUMENT, SAMPLE_ID, SAMPLE_MODES, ATTACK, RELEASE = 41, 53, 54, 34, 38
LOOPED, MONO, PACKED = 1, 1, 0x10
# One turn of 100 samples is 480 Hz at 48 kHz, 50 cents below MIDI 71.
TURN, RATE, ROOT = 100, 48_000, 71


def write_font(
    path: Path,
    programs: tuple[int, ...] = (0,),
    attack_timecents: int | None = None,
    release_timecents: int | None = None,
    *,
    packed: bool = False,
) -> Path:
    """Every program sounds the same looped cosine, whose first sample is its peak; `packed` as in
    an .sf3: an Ogg Vorbis stream instead of the samples, its loop counted from its start."""
    sample = np.round(20_000 * np.cos(2 * np.pi * np.arange(10 * TURN) / TURN)).astype("<i2")
    # At least 46 zeros after each sample.
    data = _stream(sample) if packed else sample.tobytes() + bytes(2 * 46)
    end, kind = (len(data), MONO | PACKED) if packed else (len(sample), MONO)
    moved = {ATTACK: attack_timecents, RELEASE: release_timecents}
    generators = [(what, time) for what, time in moved.items() if time is not None]
    generators += [(SAMPLE_MODES, LOOPED), (SAMPLE_ID, 0)]
    presets = [_preset(f"p{k}", program, k) for k, program in enumerate(programs)]
    bags = [struct.pack("<HH", k, 0) for k in range(len(programs) + 1)]
    gens = [struct.pack("<HH", INSTRUMENT, 0)] * len(programs) + [bytes(4)]
    shdr = struct.pack("<20sIIIIIBbHH", b"wave", 0, end, TURN, 9 * TURN, RATE, ROOT, 0, 0, kind)
    pdta = (
        _chunk(b"phdr", b"".join([*presets, _preset("EOP", 0, len(programs))]))
        + _chunk(b"pbag", b"".join(bags))
        + _chunk(b"pmod", bytes(10))
        + _chunk(b"pgen", b"".join(gens))
        + _chunk(b"inst", struct.pack("<20sH20sH", b"all", 0, b"EOI", 1))
        + _chunk(b"ibag", struct.pack("<HHHH", 0, 0, len(generators), 0))
        + _chunk(b"imod", bytes(10))
        + _chunk(b"igen", b"".join(struct.pack("<Hh", *g) for g in generators) + bytes(4))
        + _chunk(b"shdr", shdr + struct.pack("<20sIIIIIBbHH", b"EOS", *[0] * 9))
    )
    info = _chunk(b"ifil", struct.pack("<HH", 2, 1)) + _chunk(b"INAM", b"tiny\0\0")
    body = (
        b"sfbk"
        + _chunk(b"LIST", b"INFO" + info)
        + _chunk(b"LIST", b"sdta" + _chunk(b"smpl", data))
        + _chunk(b"LIST", b"pdta" + pdta)
    )
    path.write_bytes(_chunk(b"RIFF", body))
    return path


def _stream(sample: np.ndarray) -> bytes:
    file = io.BytesIO()
    soundfile.write(file, sample, RATE, format="OGG", subtype="VORBIS")
    return file.getvalue()


def _preset(name: str, program: int, bag: int) -> bytes:
    return struct.pack("<20sHHHIII", name.encode(), program, 0, bag, 0, 0, 0)


def _chunk(name: bytes, body: bytes) -> bytes:
    return name + struct.pack("<I", len(body)) + body
