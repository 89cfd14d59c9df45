"""A ladder as the plain arrays that the time loops read."""

import numpy as np

from lipmodel.waveguide import LANES, Ladder, line_tap

END_ORDER = 4  # of the filters at the ends


def padded_size(junctions: int) -> int:
    """Junctions rounded up to whole turns of the compiled loop."""
    return -(-junctions // LANES) * LANES


def at_junctions(ladder: Ladder):
    """Scattering, shelf weight and coefficient of every junction, padded; and the admittance
    of the cell that each shelf works in."""
    cell = shelf_cells(ladder)
    weight = ladder.shelf_weight[cell]
    weight[ladder.turn] = 0.0  # its cell has its shelf on the way out
    padding = (0, padded_size(len(cell)) - len(cell))
    values = ladder.scattering, weight, ladder.shelf_coefficient[cell], ladder.admittance[cell]
    return [np.pad(v, padding) for v in values]


def shelf_cells(ladder: Ladder) -> np.ndarray:
    """The cell whose loss is taken at each junction, shape (n - 1,)."""
    n, turn = len(ladder.admittance), ladder.turn
    return np.concatenate([np.arange(1, turn + 1), np.arange(turn, n - 1)])


def taps_of(ladder: Ladder, delays) -> np.ndarray:
    """What the time loop reads of every line at these delays in samples, shape (m, 7)."""
    found = [tap_of(ladder, m, float(delay)) for m, delay in enumerate(delays)]
    return np.array(found).reshape(-1, 7)


def tap_of(ladder: Ladder, line: int, delay: float) -> np.ndarray:
    """The same of one line, shape (7,)."""
    # worked out once for a ladder and a delay: a phrase asks for the same few again and again
    key = (line, delay)
    known = ladder.known_taps
    if key not in known:
        known[key] = line_tap(ladder, line, delay)
    return known[key]


def end_coefficients(ladder: Ladder):
    """The end filter's coefficients, padded to the loop's order."""
    end_b, end_a = np.zeros((2, END_ORDER + 1))
    end_b[: len(ladder.end_numerator)] = ladder.end_numerator
    end_a[: len(ladder.end_denominator)] = ladder.end_denominator
    return end_b, end_a
