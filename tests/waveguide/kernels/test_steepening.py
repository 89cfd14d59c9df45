"""A wave that overtakes itself wins no energy and stays bounded."""

import numpy as np
import pytest
from support.steepened import FINE, STRONG, carried, tone

from lipmodel.waveguide.kernels.steepening import late


@pytest.mark.parametrize("strength", [0.3, 0.9, 1.5, 4.0, 30.0])
def test_energy_is_never_won_and_the_peak_never_grows(strength):
    after, before = tone(strength)
    assert np.sum(after**2) <= np.sum(before**2)
    assert np.abs(after).max() <= np.abs(before).max() * (1 + 1e-9)
    if strength < 1:  # the means over a sample take 1e-5 and 2e-5
        assert np.sum(after**2) == pytest.approx(np.sum(before**2), rel=3e-5)
    # what is carried is neither blown nor sucked: the mean stays (measured 5e-4)
    assert np.sum(after) == pytest.approx(np.sum(before), abs=1e-3 * STRONG)


@pytest.mark.parametrize("amplitude", [1e3, 1e5])
def test_even_noise_far_past_the_shock_stays_bounded(amplitude):
    size = FINE // 4
    spectrum = np.fft.rfft(np.random.default_rng(3).normal(size=size))
    spectrum[np.fft.rfftfreq(size, 1 / FINE) > 20e3] = 0
    noise = np.fft.irfft(spectrum, size) * amplitude
    noise *= np.clip(np.minimum(np.arange(size), np.arange(size)[::-1]) / 2000, 0, 1)
    after = carried(noise, np.full(2, 2e-8 * FINE))
    assert np.sum(after**2) <= np.sum(noise**2)
    assert np.abs(after).max() <= np.abs(noise).max()


def test_reading_late_is_reading_between_the_samples():
    time = np.arange(4000.0)
    wave, found = np.sin(0.05 * time), np.empty(4000)
    late(wave, np.full(4000, 7.3), found)
    # Lagrange's cubic: (0.05)^4 3/128 = 1.5e-7; measured 1.2e-7
    assert found[100:-100] == pytest.approx(np.sin(0.05 * (time - 7.3))[100:-100], abs=2e-7)
