"""Steepening: the way from the mouthpiece to the open end."""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from lipmodel.acoustics.impedance import along, open_load, piece_matrix
from lipmodel.acoustics.losses import propagation
from lipmodel.waveguide.cells import cell_edges
from lipmodel.waveguide.filters import shelf_response

STEPS = 2  # stretches between which losses are taken: measured, see the tests
FINE_RATE = 144_000.0  # Hz, at least: before a shock images stay 120 dB down (measured)
POLES = np.array([40.0, 400.0, 3000.0, 20_000.0])  # Hz, of the loss shelves
BAND = np.geomspace(20.0, 30_000.0, 40)  # Hz, where they follow the losses
PASSAGE = 0.085  # s, longer than any sound stays in a bore after its wave has passed


@dataclass(frozen=True)
class Passage:
    """The way from the station, where the mouthpiece ends, to the open end.

    rise: k at the station, s/(Pa m); delay: k times the equivalent length, s/Pa
    weight: loss shelves before, between and after the steps, (STEPS + 1, 4)
    out: volume flow through the open end from the wave that the steps leave, its answer in time,
    m3/(Pa s); linear: the same from p+ as it was at the station
    line_rise, line_loss: by how much a sample of tube added to each line raises `delay` and the
    losses, relative, (m,)
    """

    rise: float
    delay: float
    weight: np.ndarray
    out: np.ndarray
    linear: np.ndarray
    line_rise: np.ndarray
    line_loss: np.ndarray


def rise_per_metre(air):
    """k = (g + 1)/(2 rho c^3) in s/(Pa m): by how much a pascal arrives earlier a metre on.  With
    rho c^2 = g P0 the same as (g + 1)/(2 g P0 c)."""
    return (air.heat_ratio + 1) / (2 * air.density * air.sound_speed**3)


def shock_distance(rise, steepest):
    """Metres of cylindrical tube after which a wave of greatest slope `steepest` (Pa/s) breaks,
    `rise` from `rise_per_metre`: 2 g P0 c/((g + 1) max dp/dt) (Hirschberg, Gilbert, Msallam and
    Wijnands, J. Acoust. Soc. Am. 99, 1754 (1996)); infinite for a wave that does not rise."""
    return 1 / (rise * steepest) if steepest > 0 else np.inf


def fine_factor(rate) -> int:
    """Times the sample rate at which waves are steepened."""
    return max(2, int(np.ceil(FINE_RATE / rate)))


def passage_size(rate) -> int:
    """Samples of `Passage.out`."""
    return 1 << int(np.ceil(np.log2(PASSAGE * rate)))


def passage(ladder, bore, air) -> Passage:
    """The way through `bore`, of which `ladder` is made, in `air`.

    Raises ValueError for a bore that ends closed or at a pressure node: nothing goes out.
    """
    if bore.end in ("closed", "node"):
        raise ValueError("passage: expected a bore with an open end")
    start = float(cell_edges(bore, air, ladder.rate)[1][ladder.station])
    lost, rise = _stretches(bore, air, start)
    k = rise_per_metre(air.at_share(start / bore.length))
    reached = np.concatenate([[0.0], np.cumsum(rise)])
    weight = _step_weights(reached, lost, ladder.rate * fine_factor(ladder.rate))
    line_rise, line_loss = _lines(ladder, bore, air, start, reached[-1], lost)
    size = passage_size(ladder.rate)
    frequency = np.fft.rfftfreq(size, 1 / ladder.rate)
    answer = _transmission(bore, air, start, np.maximum(frequency, frequency[1] / 8))
    answer[0] = answer[0].real
    # a delay of no whole number of samples would ring at half the rate
    share = np.clip((frequency / ladder.rate - 0.45) / 0.05, 0, 1)
    answer *= 0.5 + 0.5 * np.cos(np.pi * share)
    averages = _averages(weight, frequency, ladder.rate)
    out, linear = (np.fft.irfft(v, size) for v in (answer / averages, answer))
    return Passage(k, float(reached[-1]), weight, out, linear, line_rise, line_loss)


def _stretches(bore, air, start):
    """Of every piece beyond `start`: excess propagation at BAND, (n, f), and k times its length
    times D0/D, (n,).  The amplitude goes as sqrt(rho c)/D."""
    omega = 2 * np.pi * BAND
    lost, rise, first = [], [], None
    radius0 = float(bore.radius_at(start))
    for pieces, i, gamma, _ in along(bore, air, omega):
        share = np.clip((start - pieces.x[i]) / pieces.axial[i], 0, 1) if pieces.axial[i] else 0.0
        if share >= 1 or pieces.x[i] + pieces.axial[i] <= start:
            continue
        middle = (pieces.x[i] + pieces.axial[i] * (1 + share) / 2) / bore.length
        here = air.at_share(middle)
        speed, density = here.sound_speed, here.density
        first = first or speed * density
        length = pieces.length[i] * (1 - share)
        lost.append((gamma - 1j * omega / speed) * length)
        radius = np.sqrt(pieces.area[i] / np.pi)
        weight = radius0 / radius * np.sqrt(speed * density / first)
        rise.append(rise_per_metre(here) * length * weight)
    return np.array(lost), np.array(rise)


def _step_weights(reached, lost, rate):
    """Shelves before, between and after STEPS equal parts of the steepening, (STEPS + 1, 4)."""
    from scipy.optimize import nnls  # slow to load: passages are kept

    steps = np.concatenate([[0], (np.arange(STEPS) + 0.5) / STEPS, [1]]) * reached[-1]
    total = np.concatenate([np.zeros((1, len(BAND))), np.cumsum(lost, axis=0)])
    at = [np.array([np.interp(s, reached, col) for col in total.T]) for s in steps]
    shelves = shelf_response(step_coefficients(rate)[:, None], 2 * np.pi * BAND / rate)
    weights = []
    for before, after in pairwise(at):
        loss = 1 - np.exp(before - after)
        matrix = np.concatenate([shelves.real, shelves.imag], axis=1).T
        weight = nnls(matrix, np.concatenate([loss.real, loss.imag]))[0]
        # shelves side by side never amplify while their weights add up to 1 or less
        weights.append(weight / max(1.0, weight.sum()))
    return np.array(weights)


def step_coefficients(rate):
    return 1 - np.exp(-2 * np.pi * POLES / rate)


def _averages(weight, frequency, rate):
    """What the steps do to a wave of no strength: losses, and a mean over a sample each."""
    fine = rate * fine_factor(rate)
    omega_t = 2 * np.pi * frequency / fine
    shelves = shelf_response(step_coefficients(fine)[:, None], omega_t)
    mean = (19 + 6 * np.cos(omega_t) - np.cos(2 * omega_t)) / 24
    return np.prod(1 - weight @ shelves, axis=0) * mean**STEPS


def dense_mean(turns):
    """Gain at `turns` a fine sample of the means that the last step takes where there are shocks:
    seven means over a sample, a quarter of one apart, in a triangle."""
    x = np.pi * np.maximum(np.abs(turns), 1e-9)
    return (np.sin(x) / (4 * np.sin(x / 4))) ** 2


def _lines(ladder, bore, air, start, delay, lost):
    """`Passage.line_rise` and `line_loss`; the loss is compared at 1 kHz."""
    rise, loss = np.zeros((2, len(ladder.line_cell)))
    near = int(np.argmin(np.abs(BAND - 1000.0)))
    for m, x in enumerate(ladder.line_x.mean(axis=1)):
        here = air.at_share(x / bore.length)
        speed, k = here.sound_speed, rise_per_metre(here)
        step = speed / ladder.rate
        rise[m] = k * step * float(bore.radius_at(start) / bore.radius_at(x)) / delay
        omega = 2 * np.pi * BAND[near : near + 1]
        gamma, _ = propagation(float(bore.radius_at(x)), omega, here)
        loss[m] = gamma[0].real * step / max(lost[:, near].real.sum(), 1e-12)
    return rise, loss


def _transmission(bore, air, start, frequency):
    """Volume flow through the open end over p+ at `start` m, both in the bore with nothing that
    comes back from before `start`; complex, shape of `frequency` (Hz)."""
    omega = 2 * np.pi * frequency
    p = open_load(bore, air, omega)
    u = np.ones(len(omega), complex)
    found = list(along(bore, air, omega))
    for pieces, i, gamma, z_area in reversed(found):
        end = pieces.x[i] + pieces.axial[i]
        if end <= start:
            break
        share = max((start - pieces.x[i]) / pieces.axial[i], 0.0) if pieces.axial[i] else 0.0
        a, b, c, d = piece_matrix(pieces, i, gamma, z_area, share)
        p, u = a * p + b * u, c * p + d * u
    return 2 / (p + _impedance(bore, air, start) * u)


def _impedance(bore, air, x):
    """rho c/S at `x` m, Pa s/m3."""
    return air.at_share(x / bore.length).impedance(np.pi * float(bore.radius_at(x)) ** 2)
