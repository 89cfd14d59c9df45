"""Loud sound steepens: where the pressure is high the wave runs faster, and its fronts grow steep.

c + (g + 1)/2 u for a wave that runs one way (B. Riemann 1860): a pressure p arrives k p x earlier
after x metres, k = (g + 1)/(2 rho c^3), and the amplitude falls as the bore widens, p D =
constant (energy).  So a bore counts as a tube of length integral of D0/D(x) dx (A. Myers, R. W.
Pyle, J. Gilbert and D. M. Campbell, J. Acoust. Soc. Am. 131, 678 (2012), and before it A.
Hirschberg, J. Gilbert, R. Msallam and A. P. J. Wijnands 1996; from memory).

What runs is the wave p+ that leaves the mouthpiece, as the linear time loop has it.  Steepening
and wall losses take turns along the bore (half the losses of a stretch before it, half after);
what is new in the wave against the same wave without steepening, `delta`, then goes out through
the open end with the bore's own transmission T, of which the losses just taken are left out: they
count once.  So a soft sound is the linear one, exactly.

Approximations.  The loop itself stays linear: what steepening takes from the standing wave does
not weaken it, and what of `delta` the bell sends back is dropped.  Waves towards the lips do not
steepen (they meet the others too shortly, and are weaker where it counts).  A shock is as wide as
a sample or two at 144 kHz, where friction would make it thinner still; its images fold back 56 dB
or more under the strongest harmonic (68 dB below 12 kHz).
"""

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np

from lipmodel.acoustics.impedance import along, open_load, piece_matrix
from lipmodel.acoustics.losses import propagation
from lipmodel.cells import cell_edges
from lipmodel.spool import Memory
from lipmodel.waveguide import shelf_response

STEPS = 2  # stretches between which losses are taken: measured, see the tests
FINE_RATE = 144_000.0  # Hz, at least: before a shock images stay 120 dB down (measured)
POLES = np.array([40.0, 400.0, 3000.0, 20_000.0])  # Hz, of the loss shelves
BAND = np.geomspace(20.0, 30_000.0, 40)  # Hz, where they follow the losses
PASSAGE = 0.085  # s, longer than any sound stays in a bore after its wave has passed
CHUNK = 1 << 16  # samples worked on at once
EVEN = 1 << 12  # a transform of a few times as many samples is fast
END = 2e-3  # s: a run that is cut off while it sounds fades out, as its sound file does
SHOCK = 0.8  # of a front's way to a shock: from here on fronts may be thinner than a sample
UNHEARD = 1e-4  # of a front's way to a shock: less moves no harmonic up to 10 kHz by 0.02 dB


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


@dataclass(frozen=True)
class Steepened:
    """flow: what steepening adds to the volume flow through the open end, m3/s, shape (n,);
    steepest: the greatest rise of p+ at the station, Pa/s, and `at`, s, when."""

    flow: np.ndarray
    steepest: float
    at: float


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
    here = air.along(np.array([start / bore.length]))
    k = float(np.ravel(rise_per_metre(here))[0])
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
        here = air.along(np.array([middle]))
        speed, density = (float(np.ravel(v)[0]) for v in (here.sound_speed, here.density))
        first = first or speed * density
        length = pieces.length[i] * (1 - share)
        lost.append((gamma - 1j * omega / speed) * length)
        radius = np.sqrt(pieces.area[i] / np.pi)
        weight = radius0 / radius * np.sqrt(speed * density / first)
        rise.append(float(np.ravel(rise_per_metre(here))[0]) * length * weight)
    return np.array(lost), np.array(rise)


def _step_weights(reached, lost, rate):
    """Shelves before, between and after STEPS equal parts of the steepening, (STEPS + 1, 4)."""
    from scipy.optimize import nnls  # slow to load: passages are kept

    steps = np.concatenate([[0], (np.arange(STEPS) + 0.5) / STEPS, [1]]) * reached[-1]
    total = np.concatenate([np.zeros((1, len(BAND))), np.cumsum(lost, axis=0)])
    at = [np.array([np.interp(s, reached, col) for col in total.T]) for s in steps]
    shelves = shelf_response(_coefficients(rate)[:, None], 2 * np.pi * BAND / rate)
    weights = []
    for before, after in pairwise(at):
        loss = 1 - np.exp(before - after)
        matrix = np.concatenate([shelves.real, shelves.imag], axis=1).T
        weight = nnls(matrix, np.concatenate([loss.real, loss.imag]))[0]
        # shelves side by side never amplify while their weights add up to 1 or less
        weights.append(weight / max(1.0, weight.sum()))
    return np.array(weights)


def _coefficients(rate):
    return 1 - np.exp(-2 * np.pi * POLES / rate)


def _averages(weight, frequency, rate):
    """What the steps do to a wave of no strength: losses, and a mean over a sample each."""
    fine = rate * fine_factor(rate)
    omega_t = 2 * np.pi * frequency / fine
    shelves = shelf_response(_coefficients(fine)[:, None], omega_t)
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
        here = air.along(np.array([x / bore.length]))
        speed, k = (float(np.ravel(v)[0]) for v in (here.sound_speed, rise_per_metre(here)))
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
    here = air.along(np.array([x / bore.length]))
    area = np.pi * float(bore.radius_at(x)) ** 2
    return float(np.ravel(here.density * here.sound_speed)[0]) / area


def steepened(ladder, way: Passage, entering, added=None, room=None) -> Steepened:
    """What steepening adds to the sound of a run of `ladder`.

    entering: p+ at the station, Pa, shape (n,); added: a function that gives, for a slice of the
    run, samples of tube added to each line by valves and slide, (m, samples), or None.  What is
    long is put into `room`.
    """
    n, guard = len(entering), passage_size(ladder.rate)
    total, steepest, at = (room or Memory()).trace(n), 0.0, 0.0
    parts = int(np.ceil(n / CHUNK))
    length = int(np.ceil(n / parts))
    work = _Work(ladder, way, length + min(parts, 2) * guard)
    for first in range(0, n, length):
        stop = min(first + length, n)
        found, slope, where = work.chunk(entering, added, first, stop, guard)
        total[first:stop] = found
        if slope > steepest:
            steepest, at = slope, (first + where) / ladder.rate
    return Steepened(total, steepest, at)


class _Work:
    """What chunks of one length share: filters, and room for the fine waves."""

    def __init__(self, ladder, way: Passage, length):
        self.ladder, self.way, self.rate = ladder, way, ladder.rate
        self.factor = fine_factor(ladder.rate)
        self.size = int(np.ceil(length / EVEN)) * EVEN
        self.out, self.linear = np.fft.rfft(way.out, self.size), np.fft.rfft(way.linear, self.size)
        self.kappa = np.full(STEPS, way.delay * ladder.rate * self.factor / STEPS)
        self.coefficient = _coefficients(ladder.rate * self.factor)
        self.room = np.empty(4 * self.size * self.factor)
        self.none = np.zeros(self.size * self.factor)

    @cached_property
    def dense(self):
        """`dense_mean` at the frequencies of a chunk; few runs need it."""
        return dense_mean(np.fft.rfftfreq(self.size) / self.factor)

    def chunk(self, entering, added, first, stop, guard):
        """Flow added from sample `first` to `stop`, the greatest slope (Pa/s) and where it is."""
        from lipmodel.kernel_steepening import late, steepen

        taken = slice(max(first - guard, 0), min(stop + guard, len(entering)))
        window = self._window(taken, len(entering), guard // 2)
        spectrum = np.fft.rfft(entering[taken] * window, self.size)
        fine = self.size * self.factor
        wave = np.fft.irfft(spectrum * self.factor, fine)
        inside = slice((first - taken.start) * self.factor, (stop - taken.start) * self.factor)
        slope, where = _steepest(wave[inside])
        slope *= self.rate * self.factor
        if self.way.delay * slope < UNHEARD:
            return np.zeros(stop - first), slope, where / self.factor
        longer = 1.0 if added is None else 1 + np.max(self.way.line_rise @ added(taken))
        dense = bool(self.way.delay * slope * longer > SHOCK)
        if added is None:
            steepen(wave, None, self.kappa, self.none, self.none, self.way.weight,
                    self.coefficient, dense, self.room)  # fmt: skip
            answer = np.fft.rfft(wave)[: self.size // 2 + 1] * self.out
            if dense:
                answer /= self.dense
            answer -= spectrum * (self.factor * self.linear)
        else:
            stretch, more, delay = self._added(added, taken)
            linear = (
                np.fft.irfft(spectrum * (self.factor * self.dense), fine) if dense else wave.copy()
            )
            steepen(wave, linear, self.kappa, stretch, more, self.way.weight,
                    self.coefficient, dense, self.room)  # fmt: skip
            late(wave - linear, delay, self.room[: len(wave)])
            answer = np.fft.rfft(self.room[: len(wave)])[: self.size // 2 + 1] * self.out
            if dense:
                answer /= self.dense
        found = np.fft.irfft(answer, self.size)
        found /= self.factor
        part = slice(first - taken.start, stop - taken.start)
        return found[part], slope, where / self.factor

    def _window(self, taken, n, fade):
        """1, with half cosines where the chunk is cut out of the run, short where the run ends."""
        window = np.ones(taken.stop - taken.start)
        if taken.start > 0:
            window[:fade] = _ramp(fade)
        last = min(fade if taken.stop < n else int(END * self.rate), len(window))
        window[len(window) - last :] *= _ramp(last)[::-1]
        return window

    def _added(self, added, taken):
        fine = np.arange(self.size * self.factor) / self.factor
        coarse = np.arange(taken.stop - taken.start)
        rise = self.way.line_rise
        columns = np.array([rise, self.way.line_loss, np.ones(len(rise))])
        stretch, more, delay = columns @ added(taken)
        found = [np.interp(fine, coarse, v) for v in (stretch, more, delay)]
        return found[0], found[1], found[2] * self.factor


def _ramp(n):
    return 0.5 - 0.5 * np.cos(np.pi * np.arange(n) / max(n, 1))


def _steepest(wave):
    """Greatest step between samples, and where it begins."""
    if len(wave) < 2:
        return 0.0, 0
    steps = np.diff(wave)
    where = int(np.argmax(steps))
    return max(float(steps[where]), 0.0), where
