"""Loss shelves, Thiran delay, reflection filter of the end."""

import numpy as np
from numpy.polynomial import polynomial

POLES = np.array([14.0, 80.0, 400.0, 1800.0, 8000.0])  # Hz, of the loss shelves
LOSS_BAND = np.geomspace(14.0, 10_000.0, 40)  # Hz, where shelves follow the wall losses


def pole_coefficients(rate):
    """1 - p of the five shelf poles at a sample rate."""
    return 1 - np.exp(-2 * np.pi * POLES / rate)


def shelf_response(coefficient, omega_t):
    """High-pass part h of a shelf 1 - w h: (1 - z^-1)/(1 - p z^-1), p = 1 - `coefficient`."""
    delayed = np.exp(-1j * omega_t)
    return (1 - delayed) / (1 - (1 - coefficient) * delayed)


def thiran(delay):
    """Whole part and coefficient of a delay: z^-m (a + z^-1)/(1 + a z^-1), 0.5 <= delay - m < 1.5.

    a = (1 - d)/(1 + d), first-order Thiran allpass; lossless at every frequency.
    """
    whole = int(np.floor(delay - 0.5))
    part = delay - whole
    return whole, (1 - part) / (1 + part)


def delay_response(delay, omega_t):
    """One way through a cell of `delay` samples, without losses, complex like `omega_t`."""
    if delay == 1.0:
        return np.exp(-1j * omega_t)
    whole, a = thiran(delay)
    z1 = np.exp(-1j * omega_t)
    return z1**whole * (a + z1) / (1 + a * z1)


def shelf_weights(loss, rate):
    """Five weights, not negative, so that 1 - sum of w h follows 1 - `loss` (complex, (f,))."""
    from scipy.optimize import nnls  # slow to load: a kept ladder brings its weights along

    shelves = shelf_response(pole_coefficients(rate)[:, None], 2 * np.pi * LOSS_BAND / rate)
    scale = 1 / np.abs(np.mean(shelves, axis=0))
    matrix = np.concatenate([(shelves * scale).real, (shelves * scale).imag], axis=1).T
    weights = nnls(matrix, np.concatenate([(loss * scale).real, (loss * scale).imag]))[0]
    # shelves side by side never amplify while their weights add up to 1 or less
    return weights / max(1.0, weights.sum())


def end_filter(load, time, ratio, rate, end):
    """Reflection filter (b, a) by rising power of z^-1 of a load z(s) seen from a cell.

    `ratio` is the cell's admittance times the load's reference impedance.  Bilinear transform of
    a positive-real load: never more out than in.
    """
    if end in ("closed", "node"):
        return np.array([1.0 if end == "closed" else -1.0]), np.array([1.0])
    above, below = load

    # s = (2 rate time) (1 - z^-1)/(1 + z^-1)
    def transform(coefficients):
        order = 4
        total = np.zeros(order + 1)
        for power, value in enumerate(coefficients):
            term = polynomial.polymul(
                polynomial.polypow([1.0, -1.0], power),
                polynomial.polypow([1.0, 1.0], order - power),
            )
            total += value * (2 * rate * time) ** power * term
        return total

    z_above, z_below = transform(above), transform(below)
    b, a = ratio * z_above - z_below, ratio * z_above + z_below
    return b / a[0], a / a[0]
