"""The wave inside the ladder: what every cell holds, sample by sample.

Between two cells the pressure is R + L + k (R - L), R arriving from the lips' side and L from
the other (`time_loop.py`); inside a line both waves lie in its buffers.  The ladder takes a cell's
wall loss once for both ways, on the way out in its first half and on the way back in its second,
and a line's loss where the wave leaves it: `even_losses` says how far that puts each wave off.
"""

from dataclasses import dataclass

import numpy as np

from lipmodel.waveguide.cells import places_at
from lipmodel.waveguide.filters import shelf_response
from lipmodel.waveguide.ladder import Ladder, line_weights
from lipmodel.waveguide.state import Block, Horn, State
from lipmodel.waveguide.time_loop import advance


@dataclass(frozen=True)
class Snapshots:
    """Waves towards the open end and back in Pa, shape (samples, places), just beyond each place
    seen from the lips; time in samples of travel from the lip end, shape (places,); mouthpiece
    pressure in Pa, shape (samples,)."""

    travel: np.ndarray
    out: np.ndarray
    back: np.ndarray
    mouthpiece: np.ndarray

    @property
    def pressure(self) -> np.ndarray:
        """Pa, shape (samples, places)."""
        return self.out + self.back


def snapshots(horn: Horn, state: State, block: Block) -> Snapshots:
    """Advance `state` in place through `block` one sample at a time and note the waves.

    Places are the junctions between cells and every whole sample inside the lines.  ValueError
    where valves are down or a slide moves: the lines are then not those of the ladder.
    """
    ladder = horn.ladder
    if state.slide is not None or block.lines_from is not None or block.slide is not None:
        raise ValueError("snapshots: expected no valve pressed and no slide that moves")
    places, n = _places(ladder), len(block.mouth)
    out, back, mouthpiece = np.empty((n, len(places))), np.empty((n, len(places))), np.empty(n)
    k = ladder.scattering
    for t in range(n):
        out[t], back[t] = _waves(ladder, state, k, places)
        one = Block(block.mouth[t : t + 1], block.tension[t : t + 1])
        mouthpiece[t] = advance(horn, state, one).mouthpiece_pressure[0]
    return Snapshots(np.array([p[0] for p in places]), out, back, mouthpiece)


def where(ladder: Ladder, bore, air, travel):
    """Places in m from the lip end that `travel` samples reach, shape of `travel`."""
    return places_at(bore, air, ladder.rate, travel)


def _places(ladder):
    """(travel, cell, samples into the cell) of every place; 0 samples in: its near junction."""
    edge = np.concatenate([[0.0], np.cumsum(ladder.delay)])
    found = []
    for cell in range(len(ladder.delay)):
        if cell:
            found.append((edge[cell], cell, 0))
        if cell in ladder.line_cell:
            inside = range(1, int(ladder.delay[cell]) - 1)
            found += [(edge[cell] + j, cell, j) for j in inside]
    return found


def _waves(ladder, state: State, k, places):
    """Waves out and back at every place at the next sample, before it is computed."""
    n = len(ladder.delay)
    r, left, at = (int(i) for i in state.place)
    arriving, coming = state.right[r : r + n - 1], state.left[left + 1 : left + n]
    out = arriving + k * (arriving - coming)
    mask = state.buffers.shape[2] - 1
    lines = {int(cell): m for m, cell in enumerate(ladder.line_cell)}
    found = np.empty((2, len(places)))
    for i, (_, cell, samples) in enumerate(places):
        if not samples:
            found[:, i] = out[cell - 1], coming[cell - 1]
            continue
        m = lines[cell]
        age = ladder.delay[cell] - samples  # of the wave back since it entered at the far end
        whole, part = int(age), age - int(age)
        ways = state.buffers[m]
        far = [ways[1, (at - whole + 1 - j) & mask] for j in (0, 1)]
        found[:, i] = ways[0, (at - samples + 1) & mask], far[0] + part * (far[1] - far[0])
    return found


def even_losses(ladder: Ladder, frequency):
    """Factors for the waves out and back, complex, shape (2, f, places), `frequency` in Hz (f,).

    A wave times its factor is what it would be if a cell's loss were taken half on each way,
    along the way.  With G(c) the sum of half the shelves' logarithms over the cells before c,
    both waves are off by exp(G) up to the turn, and by exp(2 G(turn) - G) beyond it.
    """
    omega_t = 2 * np.pi * np.atleast_1d(np.asarray(frequency, float)) / ladder.rate
    high = shelf_response(ladder.shelf_coefficient[:, None], omega_t)
    half = np.log(1 - ladder.shelf_weight[:, None] * high) / 2
    before = np.concatenate([0 * half[:1], np.cumsum(half, axis=0)])
    turned = before[ladder.turn + 1]
    shelves = shelf_response(ladder.pole_coefficients[:, None], omega_t)
    a_sample = {
        int(cell): np.log(1 - line_weights(ladder, m, ladder.delay[cell]) @ shelves)
        / ladder.delay[cell]
        for m, cell in enumerate(ladder.line_cell)
    }
    found = []
    for _, cell, samples in _places(ladder):
        here = before[cell]
        even = -here if cell <= ladder.turn + 1 else here - 2 * turned
        rest = (ladder.delay[cell] - samples) if samples else 0.0
        lost = a_sample.get(cell, 0.0)
        found.append((even + lost * samples, even + lost * rest))
    return np.exp(np.array(found)).transpose(1, 2, 0)
