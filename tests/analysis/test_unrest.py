"""Pitch and level that shake, against what was put in and against an independent tool."""

import numpy as np
import parselmouth
import pytest

from lipmodel.analysis.unrest import level_unrest, pitch_unrest

RATE = 48_000


def tone(frequency, cents=0.0, percent=0.0, shake=5.0, seconds=2.0, harmonics=6):
    """A tone with harmonics whose pitch and level shake as sines of these amplitudes, on a steady
    pressure as in a mouthpiece."""
    time = np.arange(int(seconds * RATE)) / RATE
    swing = np.sin(2 * np.pi * shake * time)
    phase = 2 * np.pi * np.cumsum(frequency * 2 ** (cents * swing / 1200)) / RATE
    wave = sum(np.cos(n * phase + n) / n for n in range(1, harmonics + 1))
    return 3.0 + (1 + percent / 100 * swing) * wave


@pytest.mark.parametrize("frequency", [58.3, 233.1, 698.5])
@pytest.mark.parametrize("shake", [1.5, 5.0, 12.0, 25.0])
def test_a_shaking_pitch_is_measured_as_wide_as_it_is(frequency, shake):
    times, found = pitch_unrest(tone(frequency, 10.0, shake=shake), RATE, frequency)
    assert np.diff(times) == pytest.approx(0.0025, abs=1e-9)
    # a Hann window of T keeps sinc(x)/(1 - x^2) of a shake at x/T; T of 3 periods or 16 ms
    window = max(3, np.ceil(0.016 * frequency)) / frequency
    kept = np.sinc(shake * window) / (1 - (shake * window) ** 2)
    assert np.std(found) == pytest.approx(10 / np.sqrt(2) * kept, rel=0.03, abs=0.02)
    assert np.mean(found) == pytest.approx(0, abs=0.3)


def test_a_still_tone_is_still():
    _, pitch = pitch_unrest(tone(233.1), RATE, 233.1)
    _, level = level_unrest(tone(233.1), RATE, 233.1)
    # windows of whole samples are off whole periods by 1e-3; measured 0.006 cents, 0.0003 dB
    assert np.abs(pitch).max() < 0.03
    assert np.std(level) < 0.002


def test_a_pitch_that_is_off_is_told():
    _, found = pitch_unrest(tone(441.0), RATE, 440.0)
    assert np.mean(found) == pytest.approx(1200 * np.log2(441 / 440), abs=0.05)


def test_a_swelling_level_is_measured_as_wide_as_it_is():
    _, found = level_unrest(tone(233.1, percent=5.0), RATE, 233.1)
    # 20 lg(1.05/0.95), from end to end
    assert np.ptp(found) == pytest.approx(20 * np.log10(1.05 / 0.95), rel=0.05)


def test_an_independent_tool_finds_the_same_unrest():
    wave = tone(233.1, 7.0, shake=6.0)
    sound = parselmouth.Sound(wave, RATE)
    track = sound.to_pitch_ac(time_step=0.005, pitch_floor=150, pitch_ceiling=400)
    hz = track.selected_array["frequency"]
    hz = hz[hz > 0]
    other = np.std(1200 * np.log2(hz / hz.mean()))
    # its windows are three periods of its lowest pitch, 20 ms
    assert np.std(pitch_unrest(wave, RATE, 233.1)[1]) == pytest.approx(other, rel=0.05)


def test_too_short_a_sound_tells_nothing():
    assert all(len(a) == 0 for a in pitch_unrest(tone(100, seconds=0.08), RATE, 100))
    assert all(len(a) == 0 for a in level_unrest(tone(100, seconds=0.08), RATE, 100))


def test_the_times_are_those_of_the_windows_middles():
    # a glide of a semitone a second: two and a half milliseconds off would be 0.25 cent
    t = np.arange(RATE) / RATE
    turns = 440.0 * 12 / np.log(2) * (2 ** (t / 12) - 1)
    times, found = pitch_unrest(np.sin(2 * np.pi * turns), RATE, 440.0)
    assert np.abs(found - 100 * times)[5:-5].max() < 0.15
