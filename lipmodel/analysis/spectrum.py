"""Harmonics of a steady note."""

import numpy as np

HIGHEST_HARMONIC = 40


def harmonics(signal, rate, frequency, count=HIGHEST_HARMONIC):
    """Amplitudes (peak, in the signal's unit) of the first harmonics of `frequency` Hz.

    Hann window; harmonics above 0.45 of the rate are left out.  signal: shape (n,); rate: Hz.

    >>> tone = np.sin(2 * np.pi * 500 * np.arange(4800) / 48000)
    >>> [round(float(a), 2) for a in harmonics(tone, 48000, 500, 2)]
    [1.0, 0.0]
    """
    return np.abs(complex_harmonics(signal, rate, frequency, count))


def complex_harmonics(signal, rate, frequency, count=HIGHEST_HARMONIC):
    """The same with their phases: the signal is the real part of sum A_n e^{j n w t}, t = 0 at
    its first sample.  Shape (count or fewer,), or (count, k) of a signal of shape (n, k)."""
    signal = np.asarray(signal, float)
    window = np.hanning(len(signal))
    window /= window.sum()
    n = np.arange(1, min(count, int(0.45 * rate / frequency)) + 1)
    tones = np.exp(-2j * np.pi * frequency / rate * np.outer(n, np.arange(len(signal))))
    return 2 * ((tones * window) @ signal)


def centroid(amplitudes, frequency):
    """Spectral centroid in Hz, sum(A f)/sum(A) with amplitude weights (J. Beauchamp's
    definition)."""
    n = np.arange(1, len(amplitudes) + 1)
    total = np.sum(amplitudes)
    return float(frequency * np.sum(n * amplitudes) / total) if total > 0 else float("nan")
