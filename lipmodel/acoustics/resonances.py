"""Resonances of the air column: the peaks of its input impedance at closed lips."""

from dataclasses import dataclass

import numpy as np

from lipmodel.acoustics.arguments import checked
from lipmodel.acoustics.impedance import impedance

LOWEST = 20.0  # Hz
HIGHEST = 2000.0  # Hz
HALF_POWER = np.sqrt(0.5)
ZOOM = 9  # points between a peak's neighbours, in each round of closing in
ROUNDS = 2
FINE = 9  # points between grid frequencies, to find half power
LEAST_PROMINENCE = 0.05  # of ln |Z|: 0.4 dB; a bump lower than that holds no note


@dataclass(frozen=True, slots=True)
class Resonance:
    """frequency in Hz, magnitude |Z| in Pa s/m3, quality = frequency over half-power width
    (None where a neighbour hides the half-power points)."""

    n: int
    frequency: float
    magnitude: float
    quality: float | None


@checked
def resonances(bore, air, lowest=None, highest=HIGHEST, wall_loss=True, wavefront="wall"):
    """Peaks of |Z| between `lowest` and `highest` Hz, a list of `Resonance` from the lowest up.

    `lowest` is 20 Hz by default, or half of c/(4 L) where that is lower, so that the first
    resonance of a long bore is not missed and all keep their numbers.
    Frequencies within 0.01 cent of the peak of the model; numbered from 1 in the order found.
    Bumps under 0.4 dB are passed over.  bore: a Bore; air: an Air; highest: Hz; wall_loss,
    wavefront: as for `impedance`.  Raises TypeError.

    >>> [round(r.frequency) for r in resonances(instrument("trumpet"), Air.at(22.0))[:3]]
    [93, 230, 346]
    """

    def size(frequency):
        shape = np.shape(frequency)
        z = impedance(bore, air, np.ravel(frequency), wall_loss, None, wavefront)
        return np.abs(z).reshape(shape)

    if lowest is None:
        lowest = min(LOWEST, 0.5 * 343.0 / (4 * bore.length))
    # a peak is at least c/(2 L)/Q wide: thirty points from one peak to the next
    spacing = min(4.0, 343.0 / (2 * bore.length) / 30)
    grid = np.arange(lowest, highest + spacing, spacing)
    z = size(grid)
    at = np.flatnonzero((z[1:-1] > z[:-2]) & (z[1:-1] >= z[2:])) + 1
    at = at[_prominent(np.log(z), at)]
    if not len(at):
        return []
    peak, width = grid[at], spacing
    for _ in range(ROUNDS):
        fine = peak[:, None] + np.linspace(-width, width, ZOOM)
        best = np.argmax(size(fine), axis=1)
        peak, width = fine[np.arange(len(peak)), best], 2 * width / (ZOOM - 1)
    fine = peak[:, None] + np.array([-width, 0.0, width])
    left, middle, right = np.log(size(fine)).T
    bend = left - 2 * middle + right
    peak = peak + width * 0.5 * (left - right) / np.where(bend == 0, 1.0, bend)
    height = size(peak)
    quality = _qualities(size, peak, height, grid, z)
    return [
        Resonance(n + 1, float(f), float(h), q)
        for n, (f, h, q) in enumerate(zip(peak, height, quality, strict=True))
    ]


def _prominent(log_z, peaks):
    """Which of `peaks` rise far enough above the higher of the valleys at their sides."""
    keep = []
    for i in peaks:
        higher_left = np.flatnonzero(log_z[:i] > log_z[i])
        higher_right = np.flatnonzero(log_z[i + 1 :] > log_z[i])
        left = higher_left[-1] if len(higher_left) else 0
        right = i + 1 + higher_right[0] if len(higher_right) else len(log_z) - 1
        valley = max(log_z[left : i + 1].min(), log_z[i : right + 1].min())
        keep.append(log_z[i] - valley >= LEAST_PROMINENCE)
    return np.array(keep, bool)


def _qualities(size, peak, height, grid, z):
    """Frequency over half-power width; the crossings are found on the grid, then refined."""
    spans = [_crossing(f, h, side, grid, z) for f, h in zip(peak, height, strict=True)
             for side in (-1, 1)]  # fmt: skip
    known = [s for s in spans if s is not None]
    if not known:
        return [None] * len(peak)
    fine = np.array([np.linspace(inner, outer, FINE) for inner, outer in known])
    sizes = iter(zip(fine, size(fine), strict=True))
    edges = []
    for number, span in enumerate(spans):
        if span is None:
            edges.append(None)
            continue
        frequency, values = next(sizes)
        over = values / height[number // 2] - HALF_POWER
        after = max(1, int(np.argmax(over < 0)))
        share = over[after - 1] / (over[after - 1] - over[after])
        edges.append(frequency[after - 1] + share * (frequency[after] - frequency[after - 1]))
    pairs = zip(peak, edges[::2], edges[1::2], strict=True)
    return [None if a is None or b is None else float(f / abs(b - a)) for f, a, b in pairs]


def _crossing(f, h, side, grid, z):
    """Grid frequencies just inside and outside the half-power point, or None where |Z| rises
    again before it is reached."""
    steps = grid[grid < f][::-1] if side < 0 else grid[grid > f]
    values = z[grid < f][::-1] if side < 0 else z[grid > f]
    below = np.flatnonzero(values < h * HALF_POWER)
    rising = np.flatnonzero(np.diff(values) > 0)
    if not len(below) or (len(rising) and rising[0] < below[0] - 1):
        return None
    return (steps[below[0] - 1] if below[0] else f), steps[below[0]]
