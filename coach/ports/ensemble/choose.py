"""The voicing to play with; made once, since fonts are large and made notes are worth keeping."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from coach.ports.ensemble.soundfont import SoundFont
from coach.ports.ensemble.synth import Synthesis
from coach.ports.ensemble.voicing import Waves


@lru_cache(maxsize=1)
def waves_at(rate: int, font: Path | None = None, a4_hz: float = 440.0) -> Waves:
    """Notes out of a font (errors as for `SoundFont`), or of the embedded synthesis."""
    if font is None:
        return Waves(Synthesis(rate, a4_hz))
    return Waves(SoundFont(font, rate, a4_hz))
