"""The sound of the ensemble: exact to the sample, the same however it is cut, never too loud."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.core.timeline import frame_of
from coach.core.tutti.mixer import Mix, first_mix
from coach.ports.click import ClickTrack
from coach.ports.ensemble.soundfont import SoundFont
from coach.ports.ensemble.synth import Synthesis
from coach.ports.ensemble.timbres import timbre_of
from coach.ports.ensemble.track import EnsembleTrack, Mixed, limited
from coach.ports.ensemble.voicing import NoteKey, Voicing, Waves, velocity_gain
from tests.ports.ensemble.making import CHANGING, RATE, apart, band, chord, plan_at
from tests.ports.ensemble.tinyfont import write_font

SYNTHESIS = Synthesis(RATE)
# One of every family of General MIDI and those with a timbre of their own.
PROGRAMS = (*range(0, 128, 8), 45, 46, 47, 52, 60, 66, 71)


@pytest.fixture(scope="session")
def fonts(tmp_path_factory) -> dict[str, Voicing]:
    pytest.importorskip("tinysoundfont")
    folder = tmp_path_factory.mktemp("fonts")
    return {
        "font": SoundFont(write_font(folder / "plain.sf2"), RATE),
        # An attack of 2 ** (-6000 / 1200) s, 31 ms.
        "rising font": SoundFont(write_font(folder / "rising.sf2", (0, 60), -6000), RATE),
        # It sounds on for 2 ** (4800 / 1200) s, 16 s.
        "lasting font": SoundFont(write_font(folder / "lasting.sf2", (0,), None, 4800), RATE),
    }


def voicing_of(name: str, request) -> Voicing:
    return SYNTHESIS if name == "synth" else request.getfixturevalue("fonts")[name]


def whole(track: EnsembleTrack) -> np.ndarray:
    return track.render(0, track.end_frame)


@pytest.mark.parametrize("warp", [CHANGING, None], ids=["changing", "even"])
@pytest.mark.parametrize("tempo_bpm", [53.0, 97.3, 144.0])
@pytest.mark.parametrize("name", ["synth", "font", "rising font"])
def test_every_note_begins_on_its_frame(name, tempo_bpm, warp, request):
    plan = plan_at(tempo_bpm, warp)
    ensemble = band(apart(60))
    track = EnsembleTrack(ensemble, plan, Mix((0.0,)), Waves(voicing_of(name, request)))
    sound = whole(track)
    for note in ensemble.voices[0].notes:
        frame = frame_of(plan.exercise, RATE, plan.downbeat_frame, note.start_beats)
        assert not np.any(sound[frame - 200 : frame]), note
        assert sound[frame] != 0, note


@pytest.mark.parametrize("program", PROGRAMS)
def test_no_instrument_clicks(program):
    """The sound grows and dies away: no step is larger than where it is steady, at either end."""
    length, timbre = RATE // 2, timbre_of(program)
    wave = SYNTHESIS.wave(NoteKey(program, 57, 100, length))
    assert 0.010 <= timbre.attack_s <= 0.025
    assert len(wave) <= length + SYNTHESIS.tail_frames
    assert wave[0] != 0
    assert abs(wave[0]) < 2 / (0.010 * RATE)
    assert abs(wave[-1]) < 1e-6
    steps = np.abs(np.diff(wave))
    assert np.max(steps[: RATE // 1000]) < 0.2 * np.max(steps)
    assert np.max(steps[-RATE // 1000 :]) < 0.05 * np.max(steps)
    assert np.max(steps[length - 5 : length + 5]) <= 1.01 * np.max(steps[: length - 5])


@pytest.mark.parametrize("program", PROGRAMS)
@pytest.mark.parametrize("pitch", [21, 57, 108])
def test_an_instrument_sounds_its_pitch_at_a_level_by_velocity(program, pitch):
    waves = [SYNTHESIS.wave(NoteKey(program, pitch, v, RATE // 4)) for v in (127, 64)]
    peak, soft = (float(np.max(np.abs(wave))) for wave in waves)
    assert 0.2 < peak <= 1.4
    assert soft == pytest.approx(peak * velocity_gain(64), rel=0.4)
    spectrum = np.abs(np.fft.rfft(waves[0] * np.hanning(len(waves[0])), 1 << 17))
    hz = np.fft.rfftfreq(1 << 17, 1 / RATE)
    wanted = 440 * 2 ** ((pitch - 69) / 12)
    step = wanted * timbre_of(program).base
    strongest = hz[np.argmax(spectrum)] / step
    assert abs(strongest - round(strongest)) < 0.06 or timbre_of(program).noise


def test_a_note_shorter_than_its_attack_still_rises_and_falls():
    wave = SYNTHESIS.wave(NoteKey(60, 60, 127, 1))
    assert 0 < np.max(np.abs(wave)) < 0.9
    assert abs(wave[-1]) < 1e-6


def test_tuning_moves_all_notes(fonts):
    def strongest(voicing: Voicing) -> float:
        wave = voicing.wave(NoteKey(60, 69, 100, RATE))
        spectrum = np.abs(np.fft.rfft(wave[:RATE] * np.hanning(RATE), 1 << 19))
        return float(np.argmax(spectrum)) * RATE / (1 << 19)

    assert strongest(Synthesis(RATE, 446.0)) == pytest.approx(446.0, abs=0.3)
    path = fonts["font"]._path
    ratio = strongest(SoundFont(path, RATE, 446.0)) / strongest(SoundFont(path, RATE))
    assert ratio == pytest.approx(446 / 440, abs=3e-4)


ORCHESTRA = band(apart(73), chord(48, 60, 64, 67), chord(43, 36), apart(60), apart(47), own=3)
SHARED = Waves(SYNTHESIS, 4 << 20)
MIX = first_mix(ORCHESTRA)


@settings(max_examples=25)
@given(st.lists(st.integers(1, 60_000), min_size=1, max_size=12), st.integers(100_000, 400_000))
def test_any_cut_into_windows_gives_the_same_samples(lengths, start):
    track = EnsembleTrack(ORCHESTRA, plan_at(144.0), first_mix(ORCHESTRA), SHARED)
    expected = track.render(start, sum(lengths))
    parts, at = [], start
    for length in lengths:
        parts.append(track.render(at, length))
        at += length
    np.testing.assert_array_equal(np.concatenate(parts), expected)


@pytest.mark.parametrize("name", ["font", "rising font", "lasting font"])
def test_a_font_gives_the_same_note_each_time(fonts, name):
    font = fonts[name]
    keys = [NoteKey(60, pitch, 80, 9_000) for pitch in (60, 72, 60)]
    first, _, again = (font.wave(key) for key in keys)
    np.testing.assert_array_equal(first, again)
    assert len(first) <= 9_000 + font.tail_frames
    assert abs(first[-1]) < 1e-4


def test_levels_mutes_and_solos_are_heard():
    plan, mix = plan_at(120.0), first_mix(ORCHESTRA)
    track = EnsembleTrack(ORCHESTRA, plan, mix, SHARED)
    alone = [
        whole(track.mixed(replace(mix, solo=frozenset({k})))) for k in range(len(mix.levels_db))
    ]
    assert all(np.any(one) for one in alone)
    np.testing.assert_allclose(
        whole(track), sum(one for k, one in enumerate(alone) if k != 3), atol=1e-6
    )
    everyone = whole(track.mixed(replace(mix, muted=frozenset())))
    np.testing.assert_allclose(everyone, sum(alone), atol=1e-6)
    louder = replace(mix, levels_db=(0.0, 0.0, 6.0, 0.0, 0.0), solo=frozenset({2}))
    np.testing.assert_allclose(whole(track.mixed(louder)), alone[2] * 10 ** (6 / 20), rtol=1e-5)
    assert not np.any(whole(track.mixed(replace(mix, muted=frozenset(range(5))))))


def sides_of(track: EnsembleTrack) -> np.ndarray:
    sound = whole(track)
    assert sound.shape == (track.end_frame, 2)
    assert sound.dtype == np.float32
    return sound.T


def test_with_all_in_the_middle_it_is_mono_to_the_bit():
    track = EnsembleTrack(ORCHESTRA, plan_at(120.0), MIX, SHARED)
    mono = whole(track)
    assert mono.shape == (track.end_frame,)
    centred = whole(track.mixed(replace(MIX, pans=(0.0,) * 5)))
    assert centred.tobytes() == mono.tobytes()
    # The own voice is silent: that it stands aside makes stereo of it, and changes nothing.
    for side in sides_of(track.mixed(replace(MIX, pans=(0.0, 0.0, 0.0, 1.0, 0.0)))):
        np.testing.assert_array_equal(side, mono)


def test_a_voice_at_one_end_is_silent_at_the_other_and_the_rest_stays():
    track = EnsembleTrack(ORCHESTRA, plan_at(120.0), MIX, SHARED)
    others = whole(track.mixed(replace(MIX, muted=MIX.muted | {0})))
    alone = whole(track.mixed(replace(MIX, solo=frozenset({0}))))
    left, right = sides_of(track.mixed(replace(MIX, pans=(-1.0, 0.0, 0.0, 0.0, 0.0))))
    np.testing.assert_array_equal(right, others)
    np.testing.assert_allclose(left, others + np.sqrt(2) * alone, atol=1e-6)


@pytest.mark.parametrize("pan", [-1.0, -0.75, 0.25, 0.5, 1.0])
def test_the_power_is_the_same_wherever_a_voice_is(pan):
    track = EnsembleTrack(ORCHESTRA, plan_at(120.0), MIX, SHARED)
    alone = replace(MIX, solo=frozenset({1}))
    power = 2 * np.sum(whole(track.mixed(alone)).astype(float) ** 2)
    left, right = sides_of(track.mixed(replace(alone, pans=(0.0, pan, 0.0, 0.0, 0.0)))).astype(
        float
    )
    assert np.sum(left**2) + np.sum(right**2) == pytest.approx(power, rel=1e-5)
    assert (np.sum(right**2) > np.sum(left**2)) == (pan > 0)


def test_every_note_begins_on_its_frame_on_both_sides():
    plan, ensemble = plan_at(97.3), band(apart(60), apart(71))
    track = EnsembleTrack(ensemble, plan, Mix((0.0, 0.0), pans=(-1.0, 0.5)), Waves(SYNTHESIS))
    for sound in sides_of(track):
        for note in ensemble.voices[0].notes:
            frame = frame_of(plan.exercise, RATE, plan.downbeat_frame, note.start_beats)
            assert not np.any(sound[frame - 200 : frame]), note
            assert sound[frame] != 0, note


def test_stereo_cut_into_windows_is_the_same():
    mix = replace(MIX, pans=(-1.0, 0.25, 0.0, 0.0, 0.75))
    track = EnsembleTrack(ORCHESTRA, plan_at(144.0), mix, SHARED)
    parts = [track.render(at, 7_001) for at in range(100_000, 170_010, 7_001)]
    np.testing.assert_array_equal(np.concatenate(parts), track.render(100_000, 70_010))


def test_mono_beside_stereo_sounds_on_both_sides_and_never_above_full_scale():
    plan = plan_at(120.0, level_db=0.0)
    loud = Mix((6.0,) * 5, pans=(1.0,) * 5)
    track = EnsembleTrack(ORCHESTRA, plan, loud, SHARED)
    sound = Mixed(ClickTrack(plan), *[track] * 20).render(3 * RATE, RATE)
    assert 0.9 < np.max(sound[:, 1]) <= 1.0
    clicks = Mixed(ClickTrack(plan)).render(3 * RATE, RATE)
    np.testing.assert_array_equal(sound[:, 0], clicks)


@pytest.mark.parametrize("voices", [1, 4, 30])
def test_loud_chords_peak_near_the_level_and_never_above_full_scale(voices):
    ensemble = band(*(chord(56, 48 + k, 60 + k, velocity=127) for k in range(voices)))
    level = (0.0,) * voices
    track = EnsembleTrack(ensemble, plan_at(120.0, level_db=0.0), Mix(level), Waves(SYNTHESIS))
    peak_db = 20 * np.log10(np.max(np.abs(whole(track))))
    assert -18 < peak_db < -9
    loud = Mixed(*[track.mixed(Mix((6.0,) * voices))] * 20)
    assert 0.9 < np.max(np.abs(loud.render(3 * RATE, RATE))) <= 1.0


@given(st.lists(st.floats(-1e6, 1e6, width=32), max_size=30))
def test_the_limit_bends_only_what_is_loud_and_keeps_the_order(values):
    samples = np.sort(np.array(values, np.float32))
    bent = limited(samples.copy())
    assert np.all(np.abs(bent) <= 1.0)
    assert np.all(np.diff(bent) >= 0)
    quiet = np.abs(samples) <= 0.5
    np.testing.assert_array_equal(bent[quiet], samples[quiet])


def test_the_store_of_notes_is_bounded():
    waves = Waves(SYNTHESIS, 1 << 20)
    for pitch in range(40, 80):
        waves.wave(NoteKey(60, pitch, 80, RATE // 2))
        assert waves.kept_bytes <= 1 << 20
    again = waves.wave(NoteKey(60, 79, 80, RATE // 2))
    assert again is waves.wave(NoteKey(60, 79, 80, RATE // 2))


def test_voices_without_notes_are_silence():
    empty = replace(apart(60), notes=())
    track = EnsembleTrack(band(empty), plan_at(120.0), Mix((0.0,)), Waves(SYNTHESIS))
    assert not np.any(track.render(-5, 1000))
