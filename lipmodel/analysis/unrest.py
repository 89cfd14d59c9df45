"""How a held note wanders: its pitch and level against time, fast enough for a shake of 30 Hz.

The phase tracker: the sound is turned back by the pitch it should have and smoothed over whole
periods; how fast what is left turns is the pitch.
"""

import numpy as np

HOP = 0.0025  # s
WINDOW = 0.016  # s of a Hann window, or more: what shakes at 30 Hz keeps 0.8 of its width
PERIODS = 3  # at the least; whole ones, so that nothing is left of the other harmonics


def pitch_unrest(signal, rate, frequency):
    """Times in s and pitch in cents from `frequency` (Hz), two arrays of shape (n,), every 2.5 ms.

    `signal`: shape (m,), a sound at `rate` Hz that stays within a semitone or so of `frequency`.
    Empty where it is shorter than three windows.

    >>> tone = np.sin(2 * np.pi * 441 * np.arange(24000) / 48000)
    >>> round(float(pitch_unrest(tone, 48000, 440.0)[1].mean()), 2)  # 1200 log2(441/440)
    3.93
    """
    signal = np.asarray(signal, float)
    turn = np.exp(-2j * np.pi * frequency / rate * np.arange(len(signal)))
    times, smooth = _smooth((signal - signal.mean()) * turn, rate, frequency)
    step = round(HOP * rate) / rate
    off = np.diff(np.unwrap(np.angle(smooth))) / (2 * np.pi * step)  # Hz
    return times[1:] - step / 2, 1200 * np.log2(np.maximum(1 + off / frequency, 1e-6))


def level_unrest(signal, rate, frequency):
    """Times in s and level in dB of `signal` (shape (m,), of `frequency` Hz) as `pitch_unrest`
    gives its pitch."""
    signal = np.asarray(signal, float)
    times, power = _smooth((signal - signal.mean()) ** 2, rate, frequency)
    return times, 10 * np.log10(np.maximum(power, 1e-30))


def _smooth(values, rate, frequency):
    """Times of the windows' middles, and the mean in each."""
    from scipy.signal import fftconvolve

    periods = max(PERIODS, np.ceil(WINDOW * frequency))
    size, hop = round(periods * rate / frequency), round(HOP * rate)
    if len(values) < 3 * size:
        return np.zeros(0), np.zeros(0, values.dtype)
    window = np.hanning(size + 1)[:-1]
    found = fftconvolve(values, window / window.sum(), "valid")[::hop]
    return (0.5 * size + hop * np.arange(len(found))) / rate, found
