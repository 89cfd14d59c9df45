"""The answer of the time-domain bore itself to one click."""

import numpy as np

from lipmodel.acoustics.arguments import check
from lipmodel.waveguide.arrays import at_junctions, end_coefficients, line_taps, shelf_ranges
from lipmodel.waveguide.fit import build_ladder
from lipmodel.waveguide.ladder import Ladder
from lipmodel.waveguide.state import still


def waveguide_reflection(bore, air, rate, size, end=None):
    """Impulse response of the bore's ladder at `rate` Hz, shape (size,), r[0] at time 0.

    What comes back to an anechoic lip end of the bore's first radius after a unit pressure
    impulse: the same definition as `reflection_function`, computed by the time loop.  r[0] is
    the step from the first radius to the first cell.  rate: Hz; size: samples; end: overrides the
    bore's own.  Raises TypeError.

    >>> waveguide_reflection(instrument("pipe"), Air.at(22.0), 48000, 512).shape
    (512,)
    """
    check("waveguide_reflection", bore, air)
    return echo(build_ladder(bore.replaced_end(end), air, rate), int(size))


def echo(ladder: Ladder, size: int) -> np.ndarray:
    """What comes back to an anechoic lip end of the bore's first radius after a unit impulse of
    pressure at time 0, shape (size,)."""
    from lipmodel.waveguide.kernels import source_loop as kernel

    n = len(ladder.admittance)
    state = still(ladder)
    scattering, weight, coefficient, _ = at_junctions(ladder)
    taps = line_taps(ladder, ladder.delay[ladder.line_cell])
    end_b, end_a = end_coefficients(ladder)
    click, response = np.zeros(size), np.zeros(size)
    click[0] = 1.0
    front = (ladder.first_admittance - ladder.admittance[0]) / (
        ladder.first_admittance + ladder.admittance[0]
    )
    kernel.echo(
        n, front, click, scattering, weight, coefficient, shelf_ranges(weight, ladder.turn),
        end_b, end_a,
        ladder.line_cell, taps, ladder.pole_coefficients,
        state.right, state.left, state.memory, state.end_memory, state.buffers, state.place,
        state.line_memory, state.line_old, response,
    )  # fmt: skip
    return response
