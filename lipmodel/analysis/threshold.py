"""Where a note begins: linear stability of lips and bore.

About the steady flow at mouth pressure pm (no pressure in the bore: it is open) everything is
linear: with perturbations growing as e^{st},

  mass s^2 xi + damping s xi = F_xi xi + F_p p      (one lip)
  p = Z(s) (u_xi xi + u_v s xi + u_p p)

and the roots s = growth + j 2 pi f of the determinant are the model's own modes.  Threshold:
the lowest pm at which the growth of a root crosses zero.  After N. H. Fletcher, J. Acoust. Soc.
Am. 93, 2172-2180 (1993), with the two-way lip of `lips.py`; Z(s) is the exact impedance at
complex frequency.  A mouth upstream (`lipmodel.mouth`) stands in series: pm falls by Zm(s) times
the flow, and by R times its steady part.
"""

from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq, root

from lipmodel.acoustics.arguments import check
from lipmodel.acoustics.impedance import impedance
from lipmodel.lips import MOTIONS, Lips
from lipmodel.mouth import Mouth
from lipmodel.units import MM

FORCE = 1e-3  # N, scale of the balance of forces
RISING = (0.02, 0.1, 0.25, 0.5, 0.75, 1.0)
MOST_STEPS = 40
STEPS_TO_STEADY = 6  # each takes a further hundredth or less of what the flow takes
LONGEST_STEP = 0.03  # of the complex frequency
CLOSE = 1e-8
BAND = 1 / 3  # octaves to either side of the resonance
GRID = 400  # frequencies in the band
RISE = 40  # pressures tried from lowest to highest, 13 % apart
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
    force_by_mouth: np.ndarray
    flow_by_mouth: float
    mouth: Mouth | None = None

    def loop_gain(self, s, z):
        """Flow that comes round for one m3/s, at complex frequency `s` (1/s) on a bore of
        impedance `z`, the mouth's in series: 1 where lips and bore sing together.  Shape of
        `s`."""
        gain = z * self._flow(s, self.force_by_pressure, self.flow_by_pressure)
        if self.mouth is not None:
            upstream = self.mouth.impedance(s)
            gain = gain - upstream * self._flow(s, self.force_by_mouth, self.flow_by_mouth)
        return gain

    def _flow(self, s, force, direct):
        """Flow in m3/s for a pascal that pushes one lip by `force` and the air by `direct`."""
        push = self.mass * s * s + self.damping * s
        (xx, xy), (yx, yy) = self.force_by_place
        a, d = push - xx, push - yy
        fx, fy = force
        whole = a * d - xy * yx
        x, y = (d * fx + xy * fy) / whole, (a * fy + yx * fx) / whole  # moved by one pascal
        flow = (self.flow_by_place[0] + s * self.flow_by_speed[0]) * x
        flow = flow + (self.flow_by_place[1] + s * self.flow_by_speed[1]) * y
        return flow + direct


def _mass_and_damping(lips, tension, place, firm):
    gap_root = np.hypot(place[1], lips.smoothing)
    share = 0.5 * (1 + place[1] / gap_root)
    quality = lips.quality_at(tension)
    per_q = share / quality + (1 - share) / lips.closed_quality
    if lips.motion == "swing":
        mass = firm * lips.mass_per_area
        return mass, mass * 2 * np.pi * tension * per_q
    kappa = firm * lips.stiffness_per_hz
    return kappa / (8 * np.pi**2 * tension), kappa / (4 * np.pi) * per_q


def steady(lips, tension, mouth, density, firm=None):
    """Place (x, y) in m of the lips held open by a steady `mouth` pressure in Pa."""
    moves_x = lips.motion == "both"
    rest = lips.constants()[3:5]

    def force(scaled, pressure):
        x, y = scaled * MM
        _, fx, fy = lip_response(lips, tension, x, y, 0, 0, pressure, 0.0, density, firm)
        return np.array([fx if moves_x else x - rest[0], fy]) / FORCE

    place = rest / MM
    for share in RISING:  # raising the pressure in steps keeps the root on the way from rest
        place = root(force, place, args=(mouth * share,), tol=1e-10).x
    return place * MM


def _in_mouth(lips, tension, lungs, density, firm, mouth):
    """Steady pressure in the mouth in Pa, and the lips' place: the lungs' less what the flow
    through glottis and channel takes."""
    pressure, resistance = lungs, 0.0 if mouth is None else mouth.parts()[1]
    for _ in range(STEPS_TO_STEADY if resistance else 1):
        x, y = steady(lips, tension, pressure, density, firm)
        flow = lip_response(lips, tension, x, y, 0, 0, pressure, 0.0, density, firm)[0]
        pressure = lungs - resistance * flow
    return pressure, x, y


def linear(lips, tension, lungs, density, tract: Mouth | None = None) -> Linear:
    """The lips about their steady place at `tension` Hz, blown with `lungs` Pa, through the mouth
    `tract` if there is one."""
    firm = float(lips.firmness(lungs, tension))
    mouth, x, y = _in_mouth(lips, tension, lungs, density, firm, tract)

    def at(dx=0.0, dy=0.0, vx=0.0, vy=0.0, p=0.0, m=0.0):
        place = x + dx, y + dy, vx, vy
        return np.array(lip_response(lips, tension, *place, mouth + m, p, density, firm))

    def slope(name, step):
        return (at(**{name: step}) - at(**{name: -step})) / (2 * step)

    by_x, by_y, by_p = slope("dx", MOVE), slope("dy", MOVE), slope("p", PUSH)
    by_vx, by_vy, by_m = slope("vx", SPEED), slope("vy", SPEED), slope("m", PUSH)
    if lips.motion != "both":
        by_x = np.array([0.0, -1.0, 0.0])
        by_p, by_m = by_p * [1, 0, 1], by_m * [1, 0, 1]
    mass, damping = _mass_and_damping(lips, tension, (x, y), firm)
    return Linear(
        mass=mass,
        damping=damping,
        force_by_place=np.array([[by_x[1], by_y[1]], [by_x[2], by_y[2]]]),
        force_by_pressure=by_p[1:],
        flow_by_place=np.array([by_x[0], by_y[0]]),
        flow_by_speed=np.array([by_vx[0], by_vy[0]]),
        flow_by_pressure=by_p[0],
        force_by_mouth=by_m[1:],
        flow_by_mouth=by_m[0],
        mouth=tract,
    )


def growth(bore, air, lips, tension, mouth, near, tract=None):
    """Growth in 1/s and frequency in Hz of the mode nearest to `near` Hz, by the secant method
    on the complex frequency with the exact impedance, or None where it does not converge."""
    valve = linear(lips, tension, mouth, air.at_lips.density, tract)

    def value(s):
        return 1 - valve.loop_gain(s, impedance(bore, air, np.array([s / (2j * np.pi)]))[0])

    before = 2j * np.pi * near
    here = before * (1 + 1e-3j)
    value_before, value_here = value(before), value(here)
    for _ in range(MOST_STEPS):
        move = -value_here * (here - before) / (value_here - value_before)
        move *= min(1.0, LONGEST_STEP * abs(here) / abs(move))
        before, value_before = here, value_here
        here = here + move
        if abs(move) < CLOSE * abs(here):
            return float(here.real), float(here.imag / (2 * np.pi))
        value_here = value(here)
    return None


def _gain(valve: Linear, frequency, z):
    """Highest real loop gain in the band and its frequency (Hz): where the phase comes round."""
    gain = valve.loop_gain(2j * np.pi * frequency, z)
    turns = np.flatnonzero((gain.imag[:-1] * gain.imag[1:] <= 0) & (gain.real[:-1] > 0))
    if not len(turns):
        return 0.0, 0.0
    share = gain.imag[turns] / (gain.imag[turns] - gain.imag[turns + 1])
    real = gain.real[turns] + share * (gain.real[turns + 1] - gain.real[turns])
    best = int(np.argmax(real))
    at = turns[best]
    return real[best], frequency[at] + share[best] * (frequency[at + 1] - frequency[at])


def threshold(
    bore, air, lips, tension, near, lowest=200.0, highest=25e3, tract=None
) -> Threshold | None:
    """Lowest mouth pressure (Pa) at which lips of `tension` Hz sing on the resonance at `near`
    Hz, or None up to `highest` Pa.

    Pressure rises until the loop gain reaches 1 at a frequency within a third of an octave of
    `near` where its phase comes round; then pressure and frequency are solved for exactly.
    lips: a Lips, such as players["small"]; lowest, highest: Pa; tract: a
    `lipmodel.mouth.Mouth` upstream, the pressure is then the lungs'.  Raises TypeError.

    >>> found = threshold(instrument("trumpet"), Air.at(22.0), players["small"], 330.0, 346.0)
    >>> bool(2000 < found.pressure < 5000)
    True
    """
    check("threshold", bore, air)
    frequency = near * np.geomspace(2**-BAND, 2**BAND, GRID)
    z = impedance(bore, air, frequency)

    def excess(pressure):
        valve = linear(lips, tension, pressure, air.at_lips.density, tract)
        return _gain(valve, frequency, z)[0] - 1

    before = None
    for pressure in np.geomspace(lowest, highest, RISE):
        if excess(pressure) >= 0:
            if before is None:
                return None
            break
        before = pressure
    else:
        return None
    start = brentq(excess, before, pressure, xtol=1.0)
    _, heard = _gain(linear(lips, tension, start, air.at_lips.density, tract), frequency, z)
    return _exactly(bore, air, lips, tension, start, heard or near, tract)


def _exactly(bore, air, lips, tension, pressure, heard, tract):
    """Pressure and frequency at which a mode neither grows nor dies, by the exact impedance."""

    def balance(scaled):
        mouth, f = scaled * [pressure, heard]
        valve = linear(lips, tension, mouth, air.at_lips.density, tract)
        gain = valve.loop_gain(2j * np.pi * f, impedance(bore, air, np.array([f]))[0])
        return [gain.real - 1, gain.imag]

    found = root(balance, [1.0, 1.0], tol=1e-9)
    mouth, f = found.x * [pressure, heard]
    return Threshold(tension, float(mouth), float(f)) if found.success else None


def lip_response(lips: Lips, tension, x, y, vx, vy, mouth, pressure, density, firm=None):
    """Flow (m3/s) into the bore and force (N) on one lip, by the time loop's own equations.

    Lips at (x, y) m moving at (vx, vy) m/s between `mouth` and `pressure` (Pa), as
    firm as `mouth` makes them unless told.
    Returns (flow, fx, fy) without the damping force, which is minus `lip_damping` times the
    velocity.  For the theory of the threshold (`analysis/threshold.py`).
    """
    from lipmodel.waveguide.kernels.lips import lips as lips_alone

    step = 1e-12  # s: short enough that the lips do not move meanwhile
    lip = np.array([x, y, 0.0, 0.0, vx, vy, vx, vy])
    quality = lips.quality_at(tension)
    firm = float(lips.firmness(mouth, tension)) if firm is None else firm
    constants, motion = lips.constants(), MOTIONS.index(lips.motion)
    # a bore of no impedance: the pressure is what comes back
    flow = lips_alone(
        motion, constants, lip, tension, 1 / quality, firm,
        mouth, pressure, 1e-9, 1e9, density, step,
    )[1]  # fmt: skip
    still = np.array([x, y, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0])
    lips_alone(
        motion, constants, still, tension, 1 / quality, firm,
        mouth, pressure, 1e-9, 1e9, density, step,
    )  # fmt: skip
    return flow, still[2] / step, still[3] / step
