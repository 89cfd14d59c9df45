"""What the open end of the tube works against.

Unflanged: the load on a cone's thin rim, a fit of ours to axisymmetric finite elements (half
angles 5 to 85 degrees) and, for the straight pipe, to the integral of H. Levine and J. Schwinger,
Phys. Rev. 73, 383-406 (1948).  Flanged: the pipe in an infinite wall (W. E. Zorumski, J. Acoust.
Soc. Am. 54, 1667-1673, 1973) by the closed form of Silva, Guillemain, Kergomard, Mallaroni and
Norris, J. Sound Vib. 322, 255-263 (2009; coefficients from memory, held against a multimodal
calculation in the tests).  All for the plane mode; above ka = 3.8 only smooth and passive.
"""

from functools import cache

import numpy as np
from numpy.polynomial.polynomial import polyadd, polysub, polyval

HIGHEST_KA = 3.8  # of the fits
# |R| = (1 + a1 x^2)/(1 + (a1 + 1/2) x^2 + a4 x^4 + a6 x^6), x = ka, and the length l/a =
# b0 (1 + b1 x + b2 x^2)/(1 + b1 x + b3 x^2 + b4 x^4); each coefficient a polynomial in the half
# angle in radians, constant first.  R of the fit is within 0.010 of the finite elements.
CONE_SIZE = ((2.1301, 1.0543, -1.2429), (0.8701, 0.2492, -0.4878), (0.0392, -0.1151, 0.0570))
CONE_LENGTH = (
    (0.6133, -0.1648),
    (5.7075, -2.6730),
    (-0.6135, 0.2497),
    (0.3388, 0.4666),
    (0.0583, -0.0275),
)
FLANGED_SIZE = (0.730, 0.372, 0.0231)
FLANGED_LENGTH = (0.8216, 0.244, 0.723, -0.0198, 0.00366)
# Where the causal fit looks, how it weighs small ka, and from where it starts.
FIT_KA = np.linspace(0.04, HIGHEST_KA, 80)
FIT_WEIGHT = 1 / (0.1 + FIT_KA)
PASSIVE_KA = np.geomspace(1e-3, 300.0, 400)
START = np.array([2.0, 0.5, 0.1, 3.2, 2.8, 0.9, 0.1])


def end_reflection(ka, end="unflanged", angle=0.0):
    """Pressure reflection coefficient at the open end, complex, shape of `ka`.

    `ka` real and not negative (or complex, near the real axis); `angle` is the half angle of the
    last wave front in radians (unflanged only).  Referred to rho c / (pi a^2).
    """
    ka = np.asarray(ka)
    if end in ("closed", "node"):
        return np.full(ka.shape, 1.0 if end == "closed" else -1.0, complex)
    beyond = np.maximum(ka.real / HIGHEST_KA, 1.0)
    x = ka / beyond
    x2 = x**2
    if end == "flanged":
        a1, a4, a6 = FLANGED_SIZE
        b0, b1, b2, b3, b4 = FLANGED_LENGTH
        beta = 1.0
        length = b0 * (1 + b1 * x2) / (1 + b2 * x2 + b3 * x2**2 + b4 * x2**3)
    else:
        a1, a4, a6 = (polyval(angle, row) for row in CONE_SIZE)
        b0, b1, b2, b3, b4 = (polyval(angle, row) for row in CONE_LENGTH)
        beta = 0.5  # so that |R| = 1 - (ka)^2/2: a small source feeds the whole space
        length = b0 * (1 + b1 * x + b2 * x2) / (1 + b1 * x + b3 * x2 + b4 * x2**2)
    size = (1 + a1 * x2) / (1 + (a1 + beta) * x2 + a4 * x2**2 + a6 * x2**3)
    return -size / beyond**2 * np.exp(-2j * ka * length)


def _rational(coefficients, ka):
    s = 1j * ka
    above, below = coefficients[:3], coefficients[3:]
    return -polyval(s, [1, *above]) / polyval(s, [1, *below])


@cache
def causal_load(end="unflanged", angle=0.0):
    """z(s) = numerator/denominator of the end's load over rho c/S, coefficients by rising power
    of s = jka, for the time domain.

    R(s) = -(1 + n1 s + n2 s^2 + n3 s^3)/(1 + d1 s + ... + d4 s^4) fitted to `end_reflection`
    under |R| <= 1 and stable poles: the load is positive real, passive at every frequency.
    Within 0.006 of the closed form up to ka = 1.5 for angles up to 80 degrees.
    """
    from scipy.optimize import least_squares  # slow to load, seldom needed

    target = end_reflection(FIT_KA, end, angle)

    def residual(coefficients):
        error = (_rational(coefficients, FIT_KA) - target) * FIT_WEIGHT
        gain = np.maximum(np.abs(_rational(coefficients, PASSIVE_KA)) - 1, 0)
        poles = np.roots([*coefficients[:2:-1], 1]).real
        return np.concatenate([error.real, error.imag, 1e3 * gain, 10 * np.maximum(poles + 0.3, 0)])

    found = least_squares(residual, START, max_nfev=300).x
    n, d = np.array([1, *found[:3]]), np.array([1, *found[3:]])
    return polysub(d, n), polyadd(d, n)


def end_load(radius, angle, omega, air, end="unflanged"):
    """Load impedance in Pa s/m3 at an open end of `radius` metres, `omega` in rad/s.

    `angle`: half angle of the last wave front in radians.  0 for a pressure node.
    """
    r = end_reflection(omega * radius / air.sound_speed, end, angle)
    return (1 + r) / (1 - r) * air.density * air.sound_speed / (np.pi * radius**2)
