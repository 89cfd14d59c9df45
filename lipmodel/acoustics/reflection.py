"""The answer of the bore in time: its reflection function."""

import numpy as np

from lipmodel.acoustics.arguments import checked
from lipmodel.acoustics.impedance import reflectance

FULL_UP_TO = 1 / 6  # of the rate; from here to half the rate the band fades out
AHEAD = 16  # samples before time 0 in which the band's edge is heard


@checked
def reflection_function(bore, air, rate, size, wall_loss=True, end=None, wavefront="wall"):
    """What comes back to an anechoic lip end after a unit pressure impulse, shape (size,).

    One value a sample of 1/`rate` seconds, r[0] at time 0; the sum is R(0), -1 for an open end.
    Inverse transform of `reflectance` (Schumacher, Acustica 48, 71-85, 1981); `size` must cover
    the whole answer.  The band fades out from a sixth to half of the rate: cut off sharply, the
    answer would ring ahead of each echo and pull a note by up to 12 cents.  What still rings
    ahead of time 0 (a cup's first echo comes after two samples) is moved to the first two samples
    so that the sum and the mean time stay: left at the end of the array, where the transform puts
    it, it would pull notes by up to 5 cents (0.03 so).  rate: Hz; size: samples; the rest as for
    `reflectance`.  Raises TypeError.

    >>> r = reflection_function(instrument("pipe"), Air.at(22.0), 48000, 4096)
    >>> bool(abs(r.sum() + 1) < 1e-6)
    True
    """
    frequency = np.fft.rfftfreq(size, 1 / rate)
    answer = reflectance(bore, air, frequency, wall_loss, end, wavefront)
    share = np.clip((frequency / rate - FULL_UP_TO) / (0.5 - FULL_UP_TO), 0, 1)
    response = np.fft.irfft(answer * (0.5 + 0.5 * np.cos(np.pi * share)), size)
    ahead = min(AHEAD, size // 4)
    early = response[size - ahead :].copy()
    response[size - ahead :] = 0.0
    moment = np.sum(early * np.arange(-ahead, 0))
    response[:2] += np.sum(early) - moment, moment
    return response
