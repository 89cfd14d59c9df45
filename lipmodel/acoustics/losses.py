"""Viscous and thermal losses at the wall of a tube.

Zwikker and Kosten, Sound Absorbing Materials, 1949 (the low reduced-frequency limit of
Kirchhoff 1868):  Zv = (j w rho/S) / (1 - F(kv a)),  Yt = (j w S/(rho c^2)) (1 + (g - 1) F(kt a)),
F(z) = 2 J1(z) / (z J0(z)),  kv^2 = -j w rho/mu,  kt^2 = kv^2 Pr.
"""

from functools import cache

import numpy as np

TABLE_RANGE = (1e-2, 1e6)  # of the shear number a sqrt(w rho / mu)
TABLE_SIZE = 30_000  # straight lines between: 3e-8 relative (test)
ROTATION = np.exp(-0.25j * np.pi)  # sqrt(-j)


@cache
def _table():
    from scipy.special import jve

    grid = np.linspace(*np.log(TABLE_RANGE), TABLE_SIZE)
    z = ROTATION * np.exp(grid)
    # the exponential scaling of jve is the same for both and cancels
    return grid, jve(1, z) / jve(0, z)


def profile_function(shear):
    """F = 2 J1(z)/(z J0(z)) at z = sqrt(-j) `shear`; `shear` real from a table (fast) or
    complex from the Bessel functions themselves."""
    shear = np.asarray(shear)
    if np.iscomplexobj(shear):
        from scipy.special import jve

        z = ROTATION * shear
        return 2 * jve(1, z) / (z * jve(0, z))
    grid, ratio = _table()
    quotient = np.interp(np.log(shear), grid, ratio)
    return 2 * quotient / (ROTATION * shear)


def propagation(radius, omega, air, wall_loss=True):
    """Propagation constant in 1/m and characteristic impedance in Pa s/m3 of a tube.

    `radius` in metres, `omega` in rad/s (above 0, or complex for growing and decaying sound) and
    the properties of `air` broadcast against each other.  Waves go as exp(-gamma x).
    """
    area = np.pi * np.square(radius)
    if not wall_loss:
        gamma = 1j * omega / air.sound_speed
        return gamma, air.density * air.sound_speed / area
    shear = radius * np.sqrt(omega * air.density / air.viscosity)
    viscous = profile_function(shear)
    thermal = profile_function(shear * np.sqrt(air.prandtl))
    series = 1j * omega * air.density / area / (1 - viscous)
    shunt = 1j * omega * area / (air.density * air.sound_speed**2)
    shunt = shunt * (1 + (air.heat_ratio - 1) * thermal)
    gamma = np.sqrt(series * shunt)
    return gamma, series / gamma
