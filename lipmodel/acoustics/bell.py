"""The bell as a mirror: what of the energy turns back, and where in the flare it turns.

Horn function (A. Benade and E. Jansson, Acustica 31, 79-98, 1974; from memory): with psi =
p sqrt(S) and s along the wave's way, psi'' + (k^2 - U) psi = 0, U = (sqrt S)''/sqrt S.  Where
U > k^2 the wave no longer runs: a note turns where U = k^2, low notes earlier.  With plane
fronts sqrt S goes as the radius; with caps S and s are those of `Bore.pieces`, which keeps the
top of the barrier where the bell really stops reflecting (a Bessel flare's plane U grows
without end towards its rim).  Cones have U = 0, so they only let through; kinks between two
sections are partial reflections and no places to turn: each curved section is looked at alone.
"""

from dataclasses import dataclass

import numpy as np

from lipmodel.acoustics.arguments import check
from lipmodel.acoustics.impedance import chain, open_load, reflectance
from lipmodel.bore import wavefronts
from lipmodel.bore.geometry import Bore

LEVEL = 1e-3  # dr/dx: what widens less is a cylinder here, as a measured one is never quite even
LONG = 10e-3  # m, at least, of a cylinder before the bell
CURVED = ("bessel", "exponential", "points")
FINE = 800  # points of a curved section
FEWEST = 5  # points, to make a curve of
TRIM = 3  # pieces at a section's edges, whose angles also belong to its neighbours
HALF_GRID = np.arange(20.0, 12_000.0, 10.0)  # Hz


def bell_start(bore) -> float:
    """Where the bell begins, m: the end of the last cylinder, or where the section called "bell"
    begins if that is later; the lip end without either.

    A cylinder is 10 mm or more that widen by less than 1 mm a metre.
    """
    dx, dr = np.diff(bore.x), np.diff(bore.radius)
    start, run = 0.0, 0.0
    for i in range(len(dx)):
        level = dx[i] > 0 and abs(dr[i]) < LEVEL * dx[i]
        run = run + dx[i] if level else (run if dx[i] == 0 and dr[i] == 0 else 0.0)
        if run >= LONG:
            start = bore.x[i + 1]
    named = [s.start for s in bore.sections if s.name == "bell"]
    return float(max(start, *named[:1], 0.0))


def bell(bore) -> Bore:
    """The bore from `bell_start` on; of a tube without a bell its last centimetre."""
    start = min(bell_start(bore), bore.length - min(LONG, 0.5 * bore.length))
    keep = bore.x > start
    x = np.concatenate([[start], bore.x[keep]])
    radius = np.concatenate([[bore.radius_at(start)], bore.radius[keep]])
    return Bore(x, radius, end=bore.end)


def bell_energy(bore, air, frequency, wall_loss=False, wavefront="wall"):
    """(reflected, transmitted) shares of the energy that a wave brings to the bore's first
    radius, each of the shape of `frequency` in Hz above 0.

    Reflected is |reflectance|^2; transmitted is the power through the open end, Re(Z) |U|^2/2
    with U from the chain of matrices, over that of the wave: without losses they add up to 1,
    with them the rest warms the walls.  Nothing leaves a closed end or a pressure node.
    Raises TypeError.

    >>> reflected, transmitted = bell_energy(instrument("pipe"), Air.at(22.0), 200.0)
    >>> bool(abs(reflected + transmitted - 1) < 1e-9)
    True
    """
    check("bell_energy", bore, air)
    shape = np.shape(frequency)
    frequency = np.ravel(np.asarray(frequency, float))
    reflected = np.abs(reflectance(bore, air, frequency, wall_loss, None, wavefront)) ** 2
    if bore.end in ("closed", "node"):
        return reflected.reshape(shape)[()], np.zeros(shape)[()]
    omega = 2 * np.pi * frequency
    load = open_load(bore, air, omega, wavefront)
    p, u = load, np.ones(len(omega), complex)
    for a, b, c, d in chain(bore, air, omega, wall_loss, wavefront, step=-1):
        p, u = a * p + b * u, c * p + d * u
    zc = air.at_lips.impedance(np.pi * bore.radius[0] ** 2)
    transmitted = 4 * zc * load.real / np.abs(p + zc * u) ** 2
    return reflected.reshape(shape)[()], transmitted.reshape(shape)[()]


def half_frequency(mirror, air):
    """Frequency in Hz from which on less than half of the energy turns back; None below 12 kHz."""
    share = bell_energy(mirror, air, HALF_GRID)[0]
    below = np.flatnonzero(share < 0.5)
    if not len(below):
        return None
    i = max(below[0], 1)
    part = (share[i - 1] - 0.5) / (share[i - 1] - share[i])
    return float(HALF_GRID[i - 1] + part * (HALF_GRID[i] - HALF_GRID[i - 1]))


@dataclass(frozen=True)
class Barrier:
    """x in m and the local cut-off (c/2 pi) sqrt(U) there in Hz (0 where U < 0), shape (n,);
    `smoothed` where points were measured."""

    x: np.ndarray
    cutoff: np.ndarray
    smoothed: bool = False

    @property
    def top(self) -> float | None:
        """Above this the barrier holds nothing back, Hz; None without a flare."""
        return float(self.cutoff.max()) if len(self.cutoff) and self.cutoff.max() > 0 else None

    def turning_point(self, frequency) -> float | None:
        """Where a frequency in Hz coming from the tube meets U = k^2, m: the foot of the
        barrier that holds the highest point; None where it never does."""
        if self.top is None or frequency > self.top:
            return None
        passed = np.flatnonzero(self.cutoff[: np.argmax(self.cutoff)] < frequency)
        i = passed[-1] + 1 if len(passed) else 0
        if i == 0 or self.x[i] - self.x[i - 1] > LONG:  # at the start of a curved section
            return float(self.x[i])
        low, high = self.cutoff[i - 1], self.cutoff[i]
        return float(np.interp(frequency, [low, high], self.x[i - 1 : i + 1]))


def barrier(bore, air, wavefront="wall") -> Barrier:
    """The `Barrier` of a bore's bell.

    Each curved section ("bessel", "exponential", "points"; the whole bell of a bore without
    sections) is drawn by a cubic spline through its points, since the corners of a polyline have
    no U; measured points ("points") by a smoothing spline (generalised cross-validation, scipy),
    since U asks for two derivatives of what was read off a caliper.
    """
    start = bell_start(bore)
    given = [(s.start, s.end, s.shape) for s in bore.sections] or [(start, bore.length, "bessel")]
    spans = [(max(a, start), b, shape) for a, b, shape in given if shape in CURVED and b > start]
    spans = [(*span, curve) for span in spans if (curve := _curve(bore, *span))]
    if not spans:
        return Barrier(np.zeros(0), np.zeros(0))
    pieces = wavefronts.pieces(_redrawn(bore, start, spans), wavefront)
    way = np.cumsum(pieces.length) - pieces.length / 2
    middle = pieces.x + pieces.axial / 2 + start
    speed = air.at_open_end.sound_speed
    found = [_cutoff(pieces, way, middle, speed, a, b) for a, b, _, _ in spans]
    smoothed = any(shape == "points" for _, _, shape, _ in spans)
    return Barrier(*(np.concatenate(part) for part in zip(*found, strict=True)), smoothed)


def _curve(bore, first, last, shape):
    """Radius over x of a curved section as a spline, or None where it has too few points."""
    from scipy.interpolate import CubicSpline, make_smoothing_spline  # slow to load

    inside = (bore.x >= first - 1e-9) & (bore.x <= last + 1e-9)
    x, at = np.unique(bore.x[inside], return_index=True)
    if len(x) < FEWEST:
        return None
    return (make_smoothing_spline if shape == "points" else CubicSpline)(x, bore.radius[inside][at])


def _redrawn(bore, start, spans) -> Bore:
    """The bell from `start` on, its curved sections drawn by many points of their splines, most
    of them near the open end."""
    x, radius = [], []
    t = 1 - (1 - np.linspace(0, 1, FINE)) ** 2
    straight = bore.x >= start - 1e-9
    for first, last, _, curve in spans:
        at = first + (last - first) * t
        x.append(at)
        radius.append(np.maximum(curve(at), 0.1 * bore.radius.min()))
        straight &= (bore.x < first - 1e-9) | (bore.x > last + 1e-9)
    x, radius = (
        np.concatenate([*x, bore.x[straight]]),
        np.concatenate([*radius, bore.radius[straight]]),
    )
    order = np.argsort(x, kind="stable")
    return Bore(x[order], radius[order], end=bore.end)


def _cutoff(pieces, way, middle, speed, first, last):
    from scipy.interpolate import CubicSpline

    inside = np.flatnonzero((middle > first) & (middle < last) & (pieces.axial > 0))[TRIM:-1]
    root = np.sqrt(pieces.area[inside])
    bend = CubicSpline(way[inside], root)(way[inside], 2) / root
    return middle[inside], speed / (2 * np.pi) * np.sqrt(np.maximum(bend, 0))
