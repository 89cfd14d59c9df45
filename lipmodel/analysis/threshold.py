"""Where a note begins: linear stability of lips and bore.

About the steady flow at mouth pressure pm (no pressure in the bore: it is open) everything is
linear: with perturbations growing as e^{st},

  mass s^2 xi + damping s xi = F_xi xi + F_p p      (one lip)
  p = Z(s) (u_xi xi + u_v s xi + u_p p)

and the roots s = growth + j 2 pi f of the determinant are the model's own modes.  Threshold:
the lowest pm at which the growth of a root crosses zero.  After N. H. Fletcher, J. Acoust. Soc.
Am. 93, 2172-2180 (1993), with the two-way lip of `lips.py`; Z(s) is the exact impedance at
complex frequency.
"""

from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq, root

from lipmodel.acoustics.impedance import impedance
from lipmodel.timeloop import lip_response

FORCE = 1e-3  # N, scale of the balance of forces
MOVE, PUSH, SPEED = 1e-8, 0.1, 1e-4  # m, Pa, m/s: steps of the derivatives


@dataclass(frozen=True, slots=True)
class Threshold:
    """tension and frequency in Hz, pressure in Pa."""

    tension: float
    pressure: float
    frequency: float


@dataclass(frozen=True)
class Linear:
    """The lips linearised at rest under one mouth pressure; two coordinates (x, y)."""

    mass: float
    damping: float
    force_by_place: np.ndarray
    force_by_pressure: np.ndarray
    flow_by_place: np.ndarray
    flow_by_speed: np.ndarray
    flow_by_pressure: float
    opening_place: tuple[float, float]

    def determinant(self, s, z):
        """Zero where lips and bore of impedance `z` at `s` sing together."""
        lips = (self.mass * s * s + self.damping * s) * np.eye(2) - self.force_by_place
        moved = np.linalg.solve(lips, self.force_by_pressure)  # xi for one pascal
        flow = (self.flow_by_place + s * self.flow_by_speed) @ moved + self.flow_by_pressure
        return 1 - z * flow


def _mass_and_damping(lips, tension, place):
    gap_root = np.hypot(place[1], lips.smoothing)
    share = 0.5 * (1 + place[1] / gap_root)
    quality, _ = lips.law(tension)
    per_q = share / quality + (1 - share) / lips.closed_quality
    if lips.motion == "swing":
        return lips.mass_per_area, lips.mass_per_area * 2 * np.pi * tension * per_q
    kappa = lips.stiffness_per_hz
    return kappa / (8 * np.pi**2 * tension), kappa / (4 * np.pi) * per_q


def steady(lips, tension, mouth, density, start=None):
    """Place (x, y) in m of the lips held open by a steady `mouth` pressure in Pa."""
    moves_x = lips.motion == "both"
    constants = lips.constants()
    guess = np.array(constants[3:5] if start is None else start)

    def force(scaled):
        x, y = scaled * 1e-3
        _, fx, fy = lip_response(lips, tension, x, y, 0, 0, mouth, 0.0, density)
        return np.array([fx if moves_x else x - constants[3], fy]) / FORCE

    for steps in (1, 8):  # from the rest position in one step, else by raising the pressure
        place = guess * 1e3
        for share in np.arange(1, steps + 1) / steps:
            pressure, mouth_now = mouth, mouth * share
            mouth = mouth_now
            found = root(force, place, tol=1e-10)
            mouth = pressure
            place = found.x
        if found.success:
            return place * 1e-3
    return place * 1e-3


def linear(lips, tension, mouth, density, start=None) -> Linear:
    """The lips about their steady place under `mouth` Pa at `tension` Hz."""
    x, y = steady(lips, tension, mouth, density, start)

    def at(dx=0.0, dy=0.0, vx=0.0, vy=0.0, p=0.0):
        return np.array(lip_response(lips, tension, x + dx, y + dy, vx, vy, mouth, p, density))

    def slope(name, step):
        return (at(**{name: step}) - at(**{name: -step})) / (2 * step)

    by_x, by_y, by_p = slope("dx", MOVE), slope("dy", MOVE), slope("p", PUSH)
    by_vx, by_vy = slope("vx", SPEED), slope("vy", SPEED)
    if lips.motion != "both":
        by_x = np.array([0.0, -1.0, 0.0])
        by_p = by_p * [1, 0, 1]
    mass, damping = _mass_and_damping(lips, tension, (x, y))
    return Linear(
        mass=mass,
        damping=damping,
        force_by_place=np.array([[by_x[1], by_y[1]], [by_x[2], by_y[2]]]),
        force_by_pressure=by_p[1:],
        flow_by_place=np.array([by_x[0], by_y[0]]),
        flow_by_speed=np.array([by_vx[0], by_vy[0]]),
        flow_by_pressure=by_p[0],
        opening_place=(x, y),
    )


def growth(bore, air, lips, tension, mouth, near, start=None):
    """Growth in 1/s and frequency in Hz of the mode nearest to `near` Hz, by Newton's method on
    the complex frequency, or None where it does not converge."""
    valve = linear(lips, tension, mouth, air.density, start)

    def value(s):
        frequency = np.array([s / (2j * np.pi)])
        return valve.determinant(s, impedance(bore, air, frequency)[0])

    s = 2j * np.pi * near
    step = 1e-3 * abs(s)
    for _ in range(30):
        here = value(s)
        slope = (value(s + step) - here) / step
        move = here / slope
        move *= min(1.0, 0.05 * abs(s) / abs(move))
        s = s - move
        step = max(1e-6 * abs(s), min(step, abs(move)))
        if abs(move) < 1e-7 * abs(s):
            return float(s.real), float(s.imag / (2 * np.pi))
    return None


def threshold(bore, air, lips, tension, near, lowest=200.0, highest=25e3) -> Threshold | None:
    """Lowest mouth pressure at which the mode near `near` Hz grows, or None up to `highest` Pa.

    Searched between `lowest` and `highest` in steps of 8 %, then by bisection to 0.1 Pa.
    """
    last, before = near, None
    pressure = lowest
    while pressure <= highest:
        found = growth(bore, air, lips, tension, pressure, last)
        if found is not None and abs(np.log2(found[1] / near)) < 0.25:
            last = found[1]
            if found[0] > 0:
                if before is None:
                    return Threshold(tension, pressure, last)
                return _between(bore, air, lips, tension, before, pressure, last)
            before = pressure
        pressure *= 1.08
    return None


def _between(bore, air, lips, tension, low, high, near):
    def rate(pressure):
        found = growth(bore, air, lips, tension, pressure, near)
        return 0.0 if found is None else found[0]

    pressure = brentq(rate, low, high, xtol=0.1)
    return Threshold(tension, pressure, growth(bore, air, lips, tension, pressure, near)[1])
