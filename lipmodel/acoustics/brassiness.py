"""How much a bore lets loud sound steepen, from its geometry alone."""

import numpy as np

POINTS = 4001


def brassiness(bore, cone_length=None) -> float | None:
    """Mean of D0/D(x) over the equivalent cone length, without the mouthpiece; 1 for a cylinder.

    A. Myers, R. W. Pyle, J. Gilbert and D. M. Campbell (2010), eq. 1: integral of D0/D(x) dx
    over `cone_length` in m (c/(2 f) of the pitch the instrument is built in; the bore's own
    length without one), D0 the diameter where the leadpipe begins.  None for a mouthpiece alone.
    """
    start = max((s.end for s in bore.sections if s.name == "mouthpiece"), default=0.0)
    if not start < bore.length:
        return None
    x = np.linspace(start, bore.length, POINTS)
    radius = bore.radius_at(x)
    total = np.trapezoid(radius[0] / radius, x)
    return float(total / (cone_length or bore.length - start))
