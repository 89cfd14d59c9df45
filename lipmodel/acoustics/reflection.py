"""The answer of the bore in time: its reflection function."""

import numpy as np

from lipmodel.acoustics.impedance import reflectance


def reflection_function(bore, air, rate, size, wall_loss=True, end=None, wavefront="wall"):
    """What comes back to an anechoic lip end after a unit pressure impulse, shape (size,).

    One value a sample of 1/`rate` seconds, r[0] at time 0; the sum tends to R(0), -1 for an open
    end.  Inverse transform of `reflectance` (Schumacher, Acustica 48, 71-85, 1981): band-limited
    at rate/2, so it rings a little ahead of sharp echoes; `size` must cover the whole answer.
    """
    frequency = np.fft.rfftfreq(size, 1 / rate)
    answer = reflectance(bore, air, frequency, wall_loss, end, wavefront)
    return np.fft.irfft(answer, size)
