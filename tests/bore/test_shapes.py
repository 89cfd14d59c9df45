"""Shapes of a bore against their integrals."""

import numpy as np
import pytest
from scipy.special import beta

from lipmodel.bore.shapes import bessel, cup, cup_of_exponent, exponential, frusta_volume

# what a hundred straight pieces leave of a curve, asked for by the contract
VOLUME = 1e-4


@pytest.mark.parametrize("exponent", [0.5, 1.7, 4.0])
def test_the_cup_agrees_with_its_integral(exponent):
    rim, throat, depth = 8e-3, 2e-3, 10e-3
    x, radius = cup_of_exponent(rim, throat, depth, exponent)
    d, m = rim - throat, exponent
    # integral of (throat + d sqrt(1 - t^m))^2, with B the beta function
    exact = throat**2 + 2 * throat * d * beta(1 / m, 1.5) / m + d**2 * m / (m + 1)
    assert frusta_volume(x, radius) == pytest.approx(np.pi * depth * exact, rel=VOLUME)
    assert (radius[0], radius[-1], x[-1]) == pytest.approx((rim, throat, depth))
    middle = np.searchsorted(x, 0.4 * depth)
    t = x[middle] / depth
    assert radius[middle] == pytest.approx(throat + d * np.sqrt(1 - t**m), rel=1e-12)


def test_the_cup_has_the_volume_that_the_file_says():
    x, radius = cup(8.15e-3, 1.83e-3, 9e-3, 1.39e-6)
    # bisection down to round-off
    assert frusta_volume(x, radius) == pytest.approx(1.39e-6, rel=1e-9)


BESSEL = {
    "trumpet-like": (0.56, 5.83e-3, 61e-3, 0.6),
    "half": (0.56, 5.83e-3, 61e-3, 0.5),
    "slow": (0.4, 8e-3, 30e-3, 1.5),
    "sudden": (0.5, 6e-3, 40e-3, 0.3),
}


@pytest.mark.parametrize("shape", BESSEL.values(), ids=BESSEL)
def test_a_bessel_horn_agrees_with_its_integral(shape):
    length, start, end, flare = shape
    x, radius = bessel(*shape)
    x0 = length / ((end / start) ** (1 / flare) - 1)
    b = end * x0**flare
    q = 1 - 2 * flare
    integral = np.log((length + x0) / x0) if q == 0 else ((length + x0) ** q - x0**q) / q
    assert frusta_volume(x, radius) == pytest.approx(np.pi * b**2 * integral, rel=VOLUME)
    assert radius == pytest.approx(b * (length - x + x0) ** -flare, rel=1e-9)
    assert (x[0], x[-1], radius[0], radius[-1]) == (0.0, length, start, end)
    assert np.all(np.diff(x) > 0)


@pytest.mark.parametrize("end", [50e-3, 2e-3])
def test_an_exponential_horn_agrees_with_its_integral(end):
    start, length = 6e-3, 0.4
    x, radius = exponential(length, start, end)
    exact = np.pi * length * (end**2 - start**2) / (2 * np.log(end / start))
    assert frusta_volume(x, radius) == pytest.approx(exact, rel=VOLUME)
    assert radius[150] == pytest.approx(np.sqrt(start * end))
