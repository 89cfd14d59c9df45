"""Harmonics and centroid of sounds whose answer is known."""

import numpy as np
import pytest
from support.tones import LOUD, RATE, steady

from lipmodel.analysis.spectrum import centroid, complex_harmonics, harmonics

AMPLITUDES = np.array([3.0, 5.0, 0.0, 2.0, 1.0])


def test_complex_harmonics_keep_phase_and_harmonics_are_their_size():
    rate, f = 48_000, 233.1
    t = np.arange(9600) / rate
    signal = 3 * np.cos(2 * np.pi * f * t + 0.7) + np.cos(4 * np.pi * f * t - 1.1)
    sizes = complex_harmonics(signal, rate, f, 2)
    np.testing.assert_allclose(sizes, [3 * np.exp(0.7j), np.exp(-1.1j)], atol=1e-3)
    np.testing.assert_array_equal(harmonics(signal, rate, f, 2), np.abs(sizes))


def test_harmonics_agree_with_a_transform_of_whole_periods():
    # 240 periods of 200 samples: a plain FFT has each harmonic on its own line, without a window
    signal = steady(240.0, AMPLITUDES, 1.0)
    lines = 2 * np.abs(np.fft.rfft(signal)) / len(signal)
    found = harmonics(signal, RATE, 240.0)
    assert len(found) == 40
    # side lobes of the window at 240 lines' distance: measured 2e-9
    assert found == pytest.approx(lines[240 : 41 * 240 : 240], abs=1e-8 * LOUD)
    assert found[:5] == pytest.approx(LOUD * AMPLITUDES, abs=1e-8 * LOUD)


def test_harmonics_do_not_need_whole_periods():
    found = harmonics(steady(233.3, AMPLITUDES, 0.2), RATE, 233.3)
    # 46.7 periods: side lobes, measured 2e-5
    assert found[:5] == pytest.approx(LOUD * AMPLITUDES, abs=1e-4 * LOUD)


def test_harmonics_stop_below_half_the_rate():
    assert len(harmonics(steady(1000.0, [1.0], 0.1), RATE, 1000.0)) == 21  # 0.45 of the rate
    assert len(harmonics(steady(1000.0, [1.0], 0.1), RATE, 1000.0, count=5)) == 5


def test_the_centroid_is_the_mean_frequency_weighted_with_amplitudes():
    # (3 1 + 5 2 + 2 4 + 1 5)/11 of 240 Hz
    assert centroid(AMPLITUDES, 240.0) == pytest.approx(240.0 * 26 / 11, rel=1e-12)
    assert centroid(10 * AMPLITUDES, 240.0) == pytest.approx(240.0 * 26 / 11, rel=1e-12)
    assert centroid(np.array([1.0]), 240.0) == pytest.approx(240.0)
    assert np.isnan(centroid(np.zeros(5), 240.0))


def test_the_centroid_of_a_sound_agrees_with_its_spectrum():
    signal = steady(240.0, AMPLITUDES, 1.0)
    size = np.abs(np.fft.rfft(signal))
    size[size < 1e-6 * size.max()] = 0
    frequency = np.fft.rfftfreq(len(signal), 1 / RATE)
    whole = np.sum(size * frequency) / np.sum(size)
    assert centroid(harmonics(signal, RATE, 240.0), 240.0) == pytest.approx(whole, rel=1e-4)
