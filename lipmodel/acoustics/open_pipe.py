"""Natural frequencies of a tube that is open at both ends.

A tube with closed lips sounds at the peaks of its input impedance.  With nothing at its lip end
it sounds where the tube and the load on that end together take no force: the complex roots of
Z_in(f) + Z_load(f) = 0.  Their real part is the pitch of a free decay, their imaginary part its
damping: Q = Re f / (2 Im f), time factor e^{+jwt} (textbook, e.g. Fletcher and Rossing, The
Physics of Musical Instruments, chapters 1 and 8, from memory).
"""

import numpy as np

from lipmodel.acoustics.impedance import impedance
from lipmodel.acoustics.radiation import end_load
from lipmodel.acoustics.resonances import HIGHEST, LOWEST, Resonance

POINTS = 60  # of the grid, between two neighbours of an open tube
ROUNDS = 30
CLOSE = 1e-9  # relative step at which Newton's method is done
LEAST_QUALITY = 2.0  # a root that dies in less than a period is no resonance


def open_end_sum(bore, air, frequency, wall_loss=True):
    """Z_in + Z_load at an unflanged, radiating lip end in Pa s/m3, complex, shape (n,);
    `frequency` in Hz above 0, complex allowed."""
    frequency = np.atleast_1d(frequency)
    omega = 2 * np.pi * frequency
    load = end_load(bore.radius[0], 0.0, omega, air.at_lips)
    return impedance(bore, air, frequency, wall_loss) + load


def natural_frequencies(bore, air, lowest=LOWEST, highest=HIGHEST, wall_loss=True):
    """Resonances of the bore with an open, radiating lip end, a list of `Resonance` from the
    lowest up; `magnitude` is |Z_in + Z_load| on the real axis there, a minimum, in Pa s/m3.

    Searched from `lowest` to `highest` Hz.  A bore of no such resonance gives an empty list.
    """
    spacing = 343.0 / (2 * bore.length) / POINTS
    grid = np.arange(lowest, highest + spacing, spacing)
    size = np.abs(open_end_sum(bore, air, grid, wall_loss))
    at = np.flatnonzero((size[1:-1] < size[:-2]) & (size[1:-1] <= size[2:])) + 1
    found = []
    for start in grid[at]:
        root = _newton(bore, air, complex(start, start / 60), wall_loss)
        if root is None or not lowest <= root.real <= highest:
            continue
        if any(abs(root - other) < 1e-3 * abs(root) for other in found):
            continue
        if root.imag > 0 and root.real / (2 * root.imag) >= LEAST_QUALITY:
            found.append(root)
    found.sort(key=lambda f: f.real)
    return [
        Resonance(
            n,
            float(f.real),
            float(np.abs(open_end_sum(bore, air, f.real, wall_loss))[0]),
            float(f.real / (2 * f.imag)),
        )
        for n, f in enumerate(found, 1)
    ]


def _newton(bore, air, frequency, wall_loss):
    for _ in range(ROUNDS):
        step = 1e-5 * frequency.real
        near = np.array([frequency, frequency + step, frequency - step])
        here, there, before = open_end_sum(bore, air, near, wall_loss)
        slope = (there - before) / (2 * step)
        move = here / slope
        if abs(move) > 0.05 * abs(frequency):
            move *= 0.05 * abs(frequency) / abs(move)
        frequency = frequency - move
        if not np.isfinite(frequency) or frequency.real <= 0:
            return None
        if abs(move) < CLOSE * abs(frequency):
            return frequency
    return None
