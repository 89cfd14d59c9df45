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

import numpy as np

from lipmodel.files.long_arrays import MemoryRoom, pieces
from lipmodel.sound.passage import (
    Passage,
    dense_mean,
    fine_factor,
    passage_size,
    step_coefficients,
)

CHUNK = 1 << 16  # samples worked on at once
EVEN = 1 << 12  # a transform of a few times as many samples is fast
END = 2e-3  # s: a run that is cut off while it sounds fades out, as its sound file does
SHOCK = 0.8  # of a front's way to a shock: from here on fronts may be thinner than a sample
UNHEARD = 1e-4  # of a front's way to a shock: less moves no harmonic up to 10 kHz by 0.02 dB


@dataclass(frozen=True)
class Steepened:
    """flow: what steepening adds to the volume flow through the open end, m3/s, shape (n,);
    steepest: the greatest rise of p+ at the station, Pa/s, and `at`, s, when."""

    flow: np.ndarray
    steepest: float
    at: float


def steepened(ladder, way: Passage, entering, added=None, room=None) -> Steepened:
    """What steepening adds to the sound of a run of `ladder`.

    entering: p+ at the station, Pa, shape (n,); added: a function that gives, for a slice of the
    run, samples of tube added to each line by valves and slide, (m, samples), or None.  What is
    long is put into `room`.
    """
    n, guard = len(entering), passage_size(ladder.rate)
    total, steepest, at = (room or MemoryRoom()).trace(n), 0.0, 0.0
    parts = int(np.ceil(n / CHUNK))
    length = int(np.ceil(n / parts))
    work = _Work(ladder, way, length + min(parts, 2) * guard)
    for part in pieces(n, length):
        total[part], slope, where = work.chunk(entering, added, part.start, part.stop, guard)
        if slope > steepest:
            steepest, at = slope, (part.start + where) / ladder.rate
    return Steepened(total, steepest, at)


class _Work:
    """What chunks of one length share: filters, and room for the fine waves."""

    def __init__(self, ladder, way: Passage, length):
        self.ladder, self.way, self.rate = ladder, way, ladder.rate
        self.factor = fine_factor(ladder.rate)
        self.size = int(np.ceil(length / EVEN)) * EVEN
        self.out, self.linear = np.fft.rfft(way.out, self.size), np.fft.rfft(way.linear, self.size)
        steps = len(way.weight) - 1
        self.kappa = np.full(steps, way.delay * ladder.rate * self.factor / steps)
        self.coefficient = step_coefficients(ladder.rate * self.factor)
        self.room = np.empty(4 * self.size * self.factor)
        self.none = np.zeros(self.size * self.factor)

    @cached_property
    def dense(self):
        """`dense_mean` at the frequencies of a chunk; few runs need it."""
        return dense_mean(np.fft.rfftfreq(self.size) / self.factor)

    def chunk(self, entering, added, first, stop, guard):
        """Flow added from sample `first` to `stop`, the greatest slope (Pa/s) and where it is."""
        from lipmodel.waveguide.kernels.steepening import late, steepen

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
