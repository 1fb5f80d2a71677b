"""Which voicing is played with."""

from __future__ import annotations

import pytest

from coach.errors import FileError
from coach.ports.ensemble.choose import waves_at
from coach.ports.ensemble.soundfont import SoundFont
from coach.ports.ensemble.synth import Synthesis
from tests.ports.ensemble.tinyfont import write_font


def test_the_font_or_the_synthesis_and_each_only_once(tmp_path):
    assert isinstance(waves_at(44_100).voicing, Synthesis)
    assert waves_at(44_100) is waves_at(44_100)
    assert waves_at(48_000).voicing.rate == 48_000
    with pytest.raises(FileError):
        waves_at(48_000, tmp_path / "none.sf2")
    pytest.importorskip("tinysoundfont")
    font = write_font(tmp_path / "tiny.sf2")
    assert isinstance(waves_at(48_000, font).voicing, SoundFont)
