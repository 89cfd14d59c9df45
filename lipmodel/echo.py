"""The answer of the time-domain bore itself to one click."""

from lipmodel.fit import build_ladder
from lipmodel.timeloop import echo


def waveguide_reflection(bore, air, rate, size, end=None):
    """Impulse response of the bore's ladder at `rate` Hz, shape (size,), r[0] at time 0.

    What comes back to an anechoic lip end of the bore's first radius after a unit pressure
    impulse: the same definition as `reflection_function`, computed by the time loop.  r[0] is
    the step from the first radius to the first cell.
    """
    return echo(build_ladder(bore.replaced_end(end), air, rate), int(size))
