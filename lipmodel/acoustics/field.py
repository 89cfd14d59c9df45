"""Pressure and flow at every place along the bore, from the same matrices as the impedance.

From the open end back to the lips: a piece's matrix gives pressure and flow at its entry from
those at its exit, and that of its last part those at any place inside.  In the flare a place is
that of the circle where the wave front stands on the wall.
"""

from dataclasses import dataclass

import numpy as np

from lipmodel.acoustics.arguments import check
from lipmodel.acoustics.impedance import along, chain, open_load, piece_matrix

POINTS = 400
CUP = 0.03  # m at the lip end that get more points than their share
CUP_SHARE = 0.15


@dataclass(frozen=True)
class Field:
    """x in m, shape (n,); pressure in Pa and volume flow in m3/s, complex, shape (f, n)."""

    x: np.ndarray
    pressure: np.ndarray
    flow: np.ndarray


def places(bore, points=POINTS):
    """`points` places along the bore in m, closer in the cup, both ends among them."""
    cup = min(CUP, 0.5 * bore.length)
    few = int(CUP_SHARE * points)
    return np.concatenate(
        [np.linspace(0, cup, few, endpoint=False), np.linspace(cup, bore.length, points - few)]
    )


def field(bore, air, frequency, x=None, *, pressure=None, wall_loss=True, wavefront="wall"):
    """`Field` at the places `x` in m (default `places`) for frequencies in Hz above 0, shape (f,).

    For a flow of 1 m3/s into the bore at each frequency, or for `pressure` in Pa at the lip end,
    complex, shape (f,).  Textbook transmission line (impedance.py).  Raises TypeError, and
    ValueError for places outside of the bore.

    >>> field(instrument("pipe"), Air.at(22.0), [100.0, 200.0]).pressure.shape
    (2, 400)
    """
    check("field", bore, air)
    frequency = np.atleast_1d(np.asarray(frequency, float))
    x = places(bore) if x is None else np.atleast_1d(np.asarray(x, float))
    if not np.all(frequency > 0):
        raise ValueError("field: every frequency must be above 0 Hz")
    if np.any(x < 0) or np.any(x > bore.length):
        raise ValueError(f"field: places must lie from 0 to {bore.length:g} m")
    column = _Column(bore, air, frequency, wall_loss, wavefront)
    scale = 1 / column.u[0] if pressure is None else np.asarray(pressure) / column.p[0]
    return Field(x, *(column.at(x) * scale[:, None]))


class _Column:
    """Pressure and flow at every piece's entry, to within a factor, and from there anywhere."""

    def __init__(self, bore, air, frequency, wall_loss, wavefront):
        omega = 2 * np.pi * frequency
        self.elements = list(along(bore, air, omega, wall_loss, wavefront))
        self.pieces = self.elements[0][0]
        p, u = _at_the_end(bore, air, omega, wavefront)
        self.p, self.u = np.empty((2, len(self.elements) + 1, len(omega)), complex)
        self.p[-1], self.u[-1] = p, u
        for i in range(len(self.elements) - 1, -1, -1):
            p, u = _before(piece_matrix(*self.elements[i]), p, u)
            self.p[i], self.u[i] = p, u

    def at(self, x):
        """(pressure, flow), shape (2, f, n), at the places `x` in m."""
        start, axial = self.pieces.x, self.pieces.axial
        found = np.empty((2, self.p.shape[1], len(x)), complex)
        owner = np.clip(np.searchsorted(start, x, side="right") - 1, 0, len(start) - 1)
        for j, i in enumerate(owner):
            after = (x[j] - start[i]) / axial[i] if axial[i] > 0 else 0.0
            if after >= 1:
                found[:, :, j] = self.p[i + 1], self.u[i + 1]
                continue
            matrix = piece_matrix(*self.elements[i], after)
            found[:, :, j] = _before(matrix, self.p[i + 1], self.u[i + 1])
        return found


def _before(matrix, p, u):
    a, b, c, d = matrix
    return a * p + b * u, c * p + d * u


def _at_the_end(bore, air, omega, wavefront):
    """Pressure and flow at the open end, to within a factor."""
    one = np.ones(len(omega), complex)
    if bore.end == "closed":
        return one, 0 * one
    return open_load(bore, air, omega, wavefront) * one, one


def turns(bore, air, frequency, wall_loss=True, wavefront="wall", points=POINTS):
    """Where the pressure of one frequency (Hz) is greatest and least along the tube.

    (antinodes, nodes) of pressure, each an array of places in m; without losses the first are
    the nodes of volume flow and the second its antinodes, since both |p| and |u| stand still
    where p and u are in phase: d|p|^2/dx = -2 (w rho/S) Im(p u*) and d|u|^2/dx likewise.  The
    two ends are not told.
    """
    from scipy.optimize import brentq  # slow to load, and few runs look inside the tube

    column = _Column(bore, air, np.array([float(frequency)]), wall_loss, wavefront)

    def swing_at(x):
        p, u = column.at(np.atleast_1d(x))[:, 0]
        return (p * u.conj()).imag / abs(column.p[0, 0] * column.u[-1, 0])

    x = places(bore, points)
    swing = swing_at(x)
    antinodes, nodes = [], []
    for i in np.flatnonzero(np.diff(np.sign(swing)) != 0):
        if i in (0, len(x) - 2):  # what lies at the very ends is rounding
            continue
        place = brentq(lambda v: swing_at(v)[0], x[i], x[i + 1], xtol=1e-13)
        (antinodes if swing[i] < 0 else nodes).append(place)
    return np.array(antinodes), np.array(nodes)


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
