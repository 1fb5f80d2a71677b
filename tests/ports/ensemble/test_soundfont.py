"""Finding a SoundFont, and files that are none."""

from __future__ import annotations

import struct
import sys
from pathlib import Path

import numpy as np
import pytest

from coach.errors import CoachError, FileError
from coach.ports.ensemble import soundfont
from coach.ports.ensemble.fontcheck import fault_of
from coach.ports.ensemble.soundfont import SoundFont, find_soundfont
from coach.ports.ensemble.voicing import NoteKey
from tests.ports.ensemble.tinyfont import write_font

RATE = 48_000


@pytest.fixture
def no_system(monkeypatch, tmp_path):
    monkeypatch.setattr(soundfont, "SYSTEM_FOLDERS", (tmp_path / "system",))
    return tmp_path / "system"


def refused(path: Path) -> str:
    with pytest.raises(FileError) as error:
        SoundFont(path, RATE)
    said = str(error.value)
    assert str(path) in said
    assert "\n" not in said
    return said


def test_what_is_wanted_then_the_own_folder_then_the_systems(no_system, tmp_path):
    own = tmp_path / "home"
    assert find_soundfont(None, own) is None
    no_system.mkdir()
    (no_system / "b.sf3").touch()
    (no_system / "readme.txt").touch()
    assert find_soundfont(None, own) == no_system / "b.sf3"
    (own / "soundfonts").mkdir(parents=True)
    (own / "soundfonts" / "a.SF2").touch()
    assert find_soundfont(None, own) == own / "soundfonts" / "a.SF2"
    assert find_soundfont("b", own) == find_soundfont("b.sf3", own) == no_system / "b.sf3"
    elsewhere = tmp_path / "some font"
    elsewhere.touch()
    assert find_soundfont(str(elsewhere), own) == elsewhere
    with pytest.raises(FileError, match="there is no such SoundFont"):
        find_soundfont("c", own)


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "this is no SoundFont"),
        (b"RIFF\4\0\0\0WAVE", "this is no SoundFont"),
        (b"RIFF\xff\xff\0\0sfbk", "the file ends too early"),
    ],
)
def test_what_is_no_soundfont_is_one_sentence(tmp_path, content, said):
    path = tmp_path / "wrong.sf2"
    path.write_bytes(content)
    assert said in refused(path)


def test_what_is_not_there_is_one_sentence(tmp_path):
    assert "it cannot be read" in refused(tmp_path / "none.sf2")
    assert "it cannot be read" in refused(tmp_path)


def test_a_damaged_font_is_one_sentence(tmp_path):
    pytest.importorskip("tinysoundfont")
    path = tmp_path / "damaged.sf2"
    path.write_bytes(b"RIFF\4\0\0\0sfbk")
    assert "missing or damaged" in refused(path)
    whole = write_font(tmp_path / "whole.sf2").read_bytes()
    path.write_bytes(whole.replace(b"shdr", b"shxx"))
    assert "missing or damaged" in refused(path)


def test_a_font_cut_anywhere_is_refused_before_the_library_sees_it(tmp_path):
    """The library reads beyond the end of what is cut short, and takes the program down."""
    whole = write_font(tmp_path / "whole.sf2").read_bytes()
    assert fault_of(whole) is None
    for length in (*range(0, len(whole) - 600, 97), *range(len(whole) - 600, len(whole) - 1, 3)):
        assert fault_of(whole[:length]) is not None
        told = struct.pack("<I", max(0, length - 8))
        assert fault_of(whole[:4] + told + whole[8:length]) is not None


@pytest.mark.parametrize(
    ("chunk", "at", "value"),
    [
        ("shdr", 24, 2_000),  # the sample ends beyond all samples
        ("shdr", 20, 1_000),  # it begins where it ends
        ("shdr", 32, 2_000),  # its loop
        ("shdr", 36, 0),  # a rate of nothing
        ("phdr", 24, 9),  # a bag, a generator, an instrument, a sample that is not there
        ("pbag", 0, 9),
        ("pgen", 2, 1),
        ("inst", 20, 9),
        ("ibag", 0, 9),
        ("igen", 6, 1),
        ("igen", 0, 4),  # a start moved on by 32768 samples
    ],
)
def test_an_index_or_a_length_that_leads_nowhere_is_refused(tmp_path, chunk, at, value):
    whole = bytearray(write_font(tmp_path / "whole.sf2").read_bytes())
    place = whole.index(chunk.encode()) + 8 + at
    width = "<I" if chunk == "shdr" else "<H"
    whole[place : place + struct.calcsize(width)] = struct.pack(width, value)
    (tmp_path / "bad.sf2").write_bytes(whole)
    assert "the SoundFont is damaged" in refused(tmp_path / "bad.sf2")


def test_without_the_library_it_is_said_how_to_get_it(tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "tinysoundfont", None)
    with pytest.raises(CoachError, match="pip install --no-deps tinysoundfont"):
        SoundFont(write_font(tmp_path / "whole.sf2"), RATE)


def test_a_program_that_the_font_lacks_is_played_by_its_nearest(tmp_path):
    pytest.importorskip("tinysoundfont")
    font = SoundFont(write_font(tmp_path / "few.sf2", (0, 57, 64)), RATE)
    assert [font._nearest(k) for k in (0, 5, 57, 60, 63, 65, 127)] == [0, 0, 57, 57, 57, 64, 64]
    assert np.any(font.wave(NoteKey(63, 60, 80, 1000)))


def test_a_packed_font_sounds_like_one_that_is_not(tmp_path):
    pytest.importorskip("tinysoundfont")
    plain, packed = (
        SoundFont(write_font(tmp_path / name, packed=name.endswith("3")), RATE)
        for name in ("plain.sf2", "packed.sf3")
    )
    key = NoteKey(0, 71, 100, 4_800)
    first, second = plain.wave(key)[200:4_800], packed.wave(key)[200:4_800]
    spectra = [np.abs(np.fft.rfft(wave)) for wave in (first, second)]
    assert np.argmax(spectra[0]) == np.argmax(spectra[1])
    assert np.max(np.abs(second)) == pytest.approx(float(np.max(np.abs(first))), rel=0.2)
