"""Where the power that enters a bore goes, from its impedances alone."""

import numpy as np

from lipmodel.acoustics.impedance import chain, open_load


def power_per_flow(bore, air, frequency):
    """Mean power into the bore and out of its open end for 1 m3/s (peak) at the lip end, in W,
    two arrays of shape (n,); `frequency` in Hz above 0, shape (n,).

    P = Re(p u*)/2 at both ends of the chain of the bore's pieces (transmission line, textbook).
    A closed end and a pressure node radiate nothing.
    """
    frequency = np.atleast_1d(np.asarray(frequency, float))
    if not np.all(frequency > 0):
        raise ValueError("power_per_flow: every frequency must be above 0 Hz")
    omega = 2 * np.pi * frequency
    u = np.ones(len(omega), complex)
    p = u if bore.end == "closed" else open_load(bore, air, omega) * u
    u = 0 * u if bore.end == "closed" else u
    out = 0.5 * (p * u.conj()).real
    for a, b, c, d in chain(bore, air, omega, step=-1):
        p, u = a * p + b * u, c * p + d * u
    scale = 1 / np.abs(u) ** 2
    return 0.5 * (p * u.conj()).real * scale, out * scale
