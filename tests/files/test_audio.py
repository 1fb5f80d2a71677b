"""Sound files of every format, rate and channel count; and files that are none."""

from __future__ import annotations

import numpy as np
import pytest
import soundfile
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from coach.errors import CoachError, FileError
from coach.files.audio import read_audio, write_audio


def tone(rate: int, seconds: float = 0.5, hz: float = 233.08) -> np.ndarray:
    return (0.4 * np.sin(2 * np.pi * hz * np.arange(int(rate * seconds)) / rate)).astype(np.float32)


@pytest.mark.parametrize("suffix", ["wav", "flac", "ogg", "mp3", "aiff"])
@pytest.mark.parametrize("channels", [1, 2, 5])
@pytest.mark.parametrize("rate", [16_000, 44_100, 48_000])
def test_formats(tmp_path, suffix, channels, rate):
    channels = min(channels, 2) if suffix == "mp3" else channels
    path = tmp_path / f"tone.{suffix}"
    mono = tone(rate)
    write_audio(path, np.repeat(mono[:, None], channels, axis=1), rate)
    samples, found = read_audio(path)
    assert found == rate
    assert samples.dtype == np.float32
    assert samples.ndim == 1
    assert samples.flags.c_contiguous
    assert len(samples) >= len(mono)
    lossless = suffix in ("wav", "flac", "aiff")
    if lossless:
        np.testing.assert_allclose(samples, mono, atol=1 / 2**15)
    # A sine of amplitude 0.4 has an RMS of 0.4 / sqrt(2), whatever codec it went through.
    assert np.sqrt(np.mean(samples[1000 : len(mono) - 1000] ** 2)) == pytest.approx(0.283, abs=0.02)


def test_channels_are_mixed_by_their_mean(tmp_path):
    path = tmp_path / "two.wav"
    left = tone(48_000)
    write_audio(path, np.stack([left, np.zeros_like(left)], axis=1), 48_000)
    np.testing.assert_allclose(read_audio(path)[0], left / 2, atol=1 / 2**15)


def test_longer_than_one_block(tmp_path):
    path = tmp_path / "long.flac"
    mono = tone(16_000, 12.3)
    write_audio(path, mono, 16_000)
    samples, _ = read_audio(path)
    assert len(samples) == len(mono)
    np.testing.assert_allclose(samples, mono, atol=1 / 2**15)


def test_content_counts_not_the_name(tmp_path):
    write_audio(tmp_path / "tone.flac", tone(48_000), 48_000)
    (tmp_path / "tone.flac").rename(tmp_path / "tön.bin")
    assert read_audio(tmp_path / "tön.bin")[1] == 48_000


@pytest.mark.parametrize("rate", [8000, 15_999, 192_001, 384_000])
def test_rates_out_of_bounds(tmp_path, rate):
    path = tmp_path / "odd.wav"
    soundfile.write(path, tone(rate, 0.1), rate)
    with pytest.raises(FileError, match=f"odd.wav: its rate is {rate}"):
        read_audio(path)


def test_not_a_number(tmp_path):
    path = tmp_path / "odd.wav"
    bad = tone(48_000)
    bad[100] = np.nan
    soundfile.write(path, bad, 48_000, subtype="FLOAT")
    with pytest.raises(FileError, match="not a number"):
        read_audio(path)


def test_what_is_no_sound_file(tmp_path):
    (tmp_path / "text.wav").write_text("this is no sound")
    (tmp_path / "nothing.wav").write_bytes(b"")
    soundfile.write(tmp_path / "empty.wav", np.zeros(0, np.float32), 48_000)
    for name, message in [
        ("text.wav", "not a sound file"),
        ("nothing.wav", "not a sound file"),
        ("empty.wav", "no sound in this file"),
        ("none.wav", "no such file"),
        ("", "a folder"),
        ("a\0b.wav", "can't be read"),
    ]:
        with pytest.raises(FileError, match=message):
            read_audio(tmp_path / name)


def test_unwritable(tmp_path):
    for name in ("no/folder.wav", "no.suffixes"):
        with pytest.raises(FileError, match="can't be written"):
            write_audio(tmp_path / name, tone(48_000), 48_000)


@pytest.mark.parametrize("suffix", ["wav", "flac", "ogg", "mp3", "aiff"])
@settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_damaged_files(tmp_path, suffix, data):
    """Cut short or overwritten: some sound, or one clear error."""
    path = tmp_path / f"tone.{suffix}"
    write_audio(path, tone(16_000, 0.2), 16_000)
    raw = bytearray(path.read_bytes())
    cut = data.draw(st.integers(0, len(raw)))
    for place in data.draw(st.lists(st.integers(0, 200), max_size=8)):
        raw[min(place, len(raw) - 1)] = data.draw(st.integers(0, 255))
    path.write_bytes(raw[:cut])
    try:
        samples, rate = read_audio(path)
    except CoachError as refused:
        error = str(refused)
    else:
        error = ""
        assert len(samples) > 0
        assert np.isfinite(samples).all()
        assert 16_000 <= rate <= 192_000
    assert not error or path.name in error


@pytest.mark.parametrize("suffix", ["wav", "flac"])
def test_a_stretch_is_what_lies_there(tmp_path, suffix):
    path = tmp_path / f"long.{suffix}"
    write_audio(path, tone(16_000, 12.3), 16_000)
    whole, _ = read_audio(path)
    for start, end in ((0, 10), (65_530, 65_545), (70_000, 190_000), (196_000, 300_000)):
        np.testing.assert_array_equal(read_audio(path, start, end)[0], whole[start:end])
    with pytest.raises(FileError, match="ends before"):
        read_audio(path, 200_000, 300_000)
