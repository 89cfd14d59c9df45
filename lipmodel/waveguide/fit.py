"""Fit the ladder's areas and losses to the frequency-domain bore.

A throat is shorter than a cell and a mean area misses it by up to 50 cents.  Here every cell's
area and shelf weight may move a little (Gauss-Newton on their logarithms, held back towards the
geometry) until the ladder's input impedance follows the exact one on a fine grid of frequencies.
The derivative of the whole chain is the product of the junctions' own: with
R' = (k + R)/(1 + k R), dR'/dR = (1 - k^2)/(1 + k R)^2 and dR'/dk = (1 - R^2)/(1 + k R)^2.

Resonances far apart from their targets would trap the fit; then it starts again in a tube with
much artificial attenuation, where peaks overlap, and follows it back to none.
"""

from dataclasses import replace

import numpy as np

from lipmodel.acoustics.arguments import check
from lipmodel.acoustics.impedance import reflectance
from lipmodel.waveguide.filters import delay_response, shelf_response
from lipmodel.waveguide.ladder import Ladder, line_weights, start_ladder, with_end_filter

BAND = (20.0, 8000.0)  # Hz
HEARD = 1600.0  # Hz: above this the fit's weight falls
DULL, LIGHT = 5000.0, 0.3  # Hz: above this ripples are all there is; their weight in the fit
GRID = 6.0  # Hz between points, or less for long bores: no peak may fall between
UNIT = 0.02  # of ln Z: 0.2 dB, or half a cent at a peak of Q 30
HOLD = 0.5  # cost, in these units, of one e-fold of area or loss
LARGEST_SHELF = 0.9
ROUNDS = 40
GAIN = 3e-3  # relative gain of a round below which the fit is done
LONGEST_STEP = 0.7  # e-folds a round
GOOD_ENOUGH, NEAR = 1.0, 0.4  # rms of the misfit below HEARD, in units
DECAYS = (1500.0, 500.0, 150.0, 50.0, 15.0, 0.0)  # 1/s, artificial attenuation on the way back


def ladder_reflectance(ladder: Ladder, frequency):
    """Reflectance of the time-domain bore at `frequency` in Hz, complex, of its shape, by its own
    filters; referred to the bore's first radius like `acoustics.reflectance`.

    >>> ladder = build_ladder(instrument("pipe"), Air.at(22.0), 48000)
    >>> ladder_reflectance(ladder, [100.0, 200.0]).shape
    (2,)
    """
    shape, k = np.shape(frequency), _front(ladder)
    omega_t = 2 * np.pi * np.ravel(np.asarray(frequency, float)) / ladder.rate
    r = _sweep(ladder, omega_t, 0.0)[0]
    return ((k + r) / (1 + k * r)).reshape(shape)[()]


def _front(ladder):
    """Junction between the bore's first radius and the first cell."""
    first, cell = ladder.first_admittance, ladder.admittance[0]
    return (first - cell) / (first + cell)


def _end_response(ladder, omega_t):
    powers = np.exp(-1j * omega_t * np.arange(len(ladder.end_numerator))[:, None])
    return (ladder.end_numerator @ powers) / (ladder.end_denominator @ powers)


def _passes(ladder, omega_t, decay):
    """There and back through every cell, shape (n, f), and the shelves' high-pass parts."""
    high = shelf_response(ladder.shelf_coefficient[:, None], omega_t)
    two = np.exp(-2j * omega_t) * (1 - ladder.shelf_weight[:, None] * high)
    for line, cell in enumerate(ladder.line_cell):
        delay = ladder.delay[cell]
        shelves = shelf_response(ladder.pole_coefficients[:, None], omega_t)
        lossy = 1 - line_weights(ladder, line, delay) @ shelves
        two[cell] = (delay_response(delay, omega_t) * lossy) ** 2
    if decay:
        two *= np.exp(-2 * decay / ladder.rate * ladder.delay)[:, None]
    return two, high


def _sweep(ladder, omega_t, decay):
    """Reflectance at the first cell's entry, with what the derivative needs."""
    two, high = _passes(ladder, omega_t, decay)
    k = ladder.scattering
    n = len(ladder.admittance)
    beyond = np.empty((n, len(omega_t)), complex)  # what cell i sees at its far end
    beyond[n - 1] = _end_response(ladder, omega_t)
    for i in range(n - 2, -1, -1):
        r = two[i + 1] * beyond[i + 1]
        beyond[i] = (k[i] + r) / (1 + k[i] * r)
    return two[0] * beyond[0], two, beyond, high


def _jacobian(ladder, omega_t, decay):
    """Reflectance, shape (f,), and its derivatives by log area and log shelf weight, (2n, f)."""
    entry, two, beyond, high = _sweep(ladder, omega_t, decay)
    k = ladder.scattering
    n = len(ladder.admittance)
    by_area, by_loss = np.zeros((2, n, len(omega_t)), complex)
    gain = np.ones(len(omega_t), complex)  # d entry / d (reflectance entering cell i)
    for i in range(n):
        # entering cell i: two_i beyond_i, and two_i = z^-2 (1 - weight high)
        lost = ladder.shelf_weight[i] * high[i] / (1 - ladder.shelf_weight[i] * high[i])
        by_loss[i] = -gain * lost * two[i] * beyond[i]
        gain = gain * two[i]
        if i == n - 1:
            break
        below = (1 + k[i] * two[i + 1] * beyond[i + 1]) ** 2
        by_k = gain * (1 - (two[i + 1] * beyond[i + 1]) ** 2) / below * (1 - k[i] ** 2) / 2
        by_area[i] += by_k
        by_area[i + 1] -= by_k
        gain = gain * (1 - k[i] ** 2) / below
    if ladder.end_load is not None:
        # last cell against its load: F = (q - 1)/(q + 1), dF/d log q = (1 - F^2)/2
        by_area[n - 1] += gain * (1 - beyond[n - 1] ** 2) / 2
    by_loss[ladder.line_cell] = 0
    # from the first cell to the bore's first radius, one more junction in front
    front = _front(ladder)
    below = (1 + front * entry) ** 2
    slopes = np.concatenate([by_area, by_loss]) * (1 - front**2) / below
    slopes[0] -= (1 - entry**2) / below * (1 - front**2) / 2
    return (front + entry) / (1 + front * entry), slopes


def _grid(ladder):
    spacing = min(GRID, ladder.rate / ladder.delay.sum() / 30)
    top = min(BAND[1], ladder.rate / 6)
    low, middle = np.arange(BAND[0], HEARD, spacing), np.arange(HEARD, min(DULL, top), 3 * spacing)
    return np.concatenate([low, middle, np.arange(DULL, top, 9 * spacing)])


def _log_impedance(reflectance):
    return np.log((1 + reflectance) / (1 - reflectance))


class _Fit:
    """The ladder as a function of 2n logarithms: areas, then shelf weights."""

    def __init__(self, start: Ladder):
        self.start = start
        self.n = len(start.admittance)
        self.frequency = _grid(start)
        self.omega_t = 2 * np.pi * self.frequency / start.rate
        self.weight = np.minimum(1.0, (HEARD / self.frequency) ** 2) / UNIT
        # enough to keep areas from wandering off where nothing else holds them
        self.weight[self.frequency >= DULL] *= LIGHT
        self.hold = HOLD * np.sqrt(len(self.frequency) / 100)
        self.free = np.ones(2 * self.n, bool)
        self.free[self.n :] = start.shelf_weight > 0

    def ladder(self, position) -> Ladder:
        weight = self.start.shelf_weight * np.exp(position[self.n :])
        return with_end_filter(
            replace(
                self.start,
                admittance=self.start.admittance * np.exp(position[: self.n]),
                shelf_weight=np.minimum(weight, LARGEST_SHELF),
            )
        )

    def misfit(self, position, target, decay):
        """Residual of the log impedance in units, complex, and its slopes, (2n, f)."""
        entry, slopes = _jacobian(self.ladder(position), self.omega_t, decay)
        residual = (_log_impedance(entry) - _log_impedance(target)) * self.weight
        return residual, slopes[self.free] * (2 * self.weight / (1 - entry**2))

    def follow(self, position, target, decay):
        """Gauss-Newton with Levenberg's damping from `position`; returns the best one and the
        rms of its misfit below HEARD."""
        from scipy.linalg import cho_factor, cho_solve  # slow to load: ladders are kept

        damping, best, held, step = 1e-2, np.inf, position, None
        for _ in range(ROUNDS):
            residual, slopes = self.misfit(position, target, decay)
            cost = np.sum(np.abs(residual) ** 2) + np.sum((self.hold * position) ** 2)
            if cost < best:
                gained, best, held = best - cost, cost, position
                low = self.frequency <= HEARD
                rms = np.sqrt(np.mean(np.abs(residual[low]) ** 2))
                if gained < GAIN * cost:
                    break
                damping *= 0.2
                normal = (slopes @ slopes.conj().T).real + self.hold**2 * np.eye(len(slopes))
                pull = (slopes.conj() @ residual).real + self.hold**2 * position[self.free]
            else:
                damping *= 5
            scaled = normal + damping * np.diag(np.diag(normal))
            step = np.zeros(2 * self.n)
            step[self.free] = -cho_solve(cho_factor(scaled), pull)
            position = held + step * min(1.0, LONGEST_STEP / np.abs(step).max())
        return held, rms


def build_ladder(bore, air, rate) -> Ladder:
    """The time-domain bore at `rate` Hz: from the geometry, then fitted to `reflectance`.

    Shelves in two stretches do for bores that widen smoothly; where they cannot stand for the
    cells between, every cell has its own.  bore: a Bore; air: an Air.  Raises TypeError, and
    SceneError for a rate too low for the bore.

    >>> ladder = build_ladder(instrument("pipe"), Air.at(22.0), 48000)
    >>> bool(abs(ladder_reflectance(ladder, 200.0)) < 1)
    True
    """
    check("build_ladder", bore, air)
    fit, position, rms = _fitted(bore, air, start_ladder(bore, air, rate))
    if rms > NEAR:
        dense = _fitted(bore, air, start_ladder(bore, air, rate, dense=True))
        if dense[2] < rms:
            fit, position, rms = dense
    if rms > GOOD_ENOUGH:
        other = np.zeros(2 * fit.n)
        for decay in DECAYS:
            damped = reflectance(bore, air, fit.frequency, decay=decay)
            other, other_rms = fit.follow(other, damped, decay)
        if other_rms < rms:
            position = other
    return fit.ladder(position)


def _fitted(bore, air, ladder):
    fit = _Fit(ladder)
    return fit, *fit.follow(np.zeros(2 * fit.n), reflectance(bore, air, fit.frequency), 0.0)
