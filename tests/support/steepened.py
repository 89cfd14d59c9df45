"""A tone on its way through a tube in which waves grow steep."""

import numpy as np

from lipmodel.waveguide.kernels.steepening import POLES, steepen

RATE, FINE = 48_000, 192_000
TONE, STRONG = 233.08, 10e3  # Hz, Pa


def tone(strength, amplitude=STRONG, seconds=0.5):
    """A sine that comes and goes, after `strength` shock distances without losses; and before."""
    time = np.arange(round(seconds * FINE)) / FINE
    ramp = np.clip(np.minimum(time, time[::-1]) / 0.05, 0, 1)
    before = amplitude * np.sin(2 * np.pi * TONE * time) * ramp
    kappa = np.full(2, strength * FINE / (2 * np.pi * TONE * amplitude) / 2)
    return carried(before, kappa), before


def carried(wave, kappa):
    after, none = wave.copy(), np.zeros(len(wave))
    lossless = np.zeros((len(kappa) + 1, POLES))
    room = np.empty(4 * len(wave))
    steepen(after, None, kappa, none, none, lossless, np.full(POLES, 0.1), False, room)
    return after
