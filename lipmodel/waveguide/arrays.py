"""A ladder as the plain arrays that the time loops read."""

import numpy as np

from lipmodel.waveguide.ladder import LANES, Ladder, line_tap, padded_size, shelf_cells

END_ORDER = 4  # of the filters at the ends


def at_junctions(ladder: Ladder):
    """Scattering, shelf weight and coefficient of every junction, padded; and the admittance
    of the cell that each shelf works in.  Worked out once for a ladder: not to be changed."""
    own = ladder.admittance, ladder.shelf_weight, ladder.shelf_coefficient
    known = ladder.known_taps.get("junctions")
    # a ladder made from another one shares its dict
    if known is None or any(a is not b for a, b in zip(known[0], own, strict=True)):
        known = ladder.known_taps["junctions"] = own, _at_junctions(ladder)
    return known[1]


def _at_junctions(ladder):
    cell = shelf_cells(len(ladder.admittance), ladder.turn)
    weight = ladder.shelf_weight[cell]
    weight[ladder.turn] = 0.0  # its cell has its shelf on the way out
    padding = (0, padded_size(len(cell)) - len(cell))
    values = ladder.scattering, weight, ladder.shelf_coefficient[cell], ladder.admittance[cell]
    return [np.pad(v, padding) for v in values]


def shelf_ranges(weight, turn: int) -> np.ndarray:
    """Where stretches of junctions begin and the last one ends, shape (5,), from the shelf
    weights of padded junctions: with shelves on the wave to the right (junctions up to `turn`),
    without, with shelves on the wave to the left, without.

    They begin at whole turns of the compiled loop.
    """
    shelves = np.flatnonzero(weight)
    right, left = shelves[shelves < turn], shelves[shelves >= turn]
    first = min(padded_size(right[-1] + 1), turn) if len(right) else 0
    if not len(left):
        return np.array([0, first, turn, turn, len(weight)])
    return np.array([0, first, left[0] // LANES * LANES, padded_size(left[-1] + 1), len(weight)])


def line_taps(ladder: Ladder, delays) -> np.ndarray:
    """What the time loop reads of every line at these delays in samples, shape (m, 7)."""
    taps = [tap_of(ladder, m, float(delay)) for m, delay in enumerate(delays)]
    return np.array(taps).reshape(-1, 7)


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
