"""Curves of radius against distance, metres: mouthpiece cup, Bessel horn, exponential horn.

Each returns (x, radius), x from 0, drawn with enough straight pieces that the volume of the
usual shapes is right within 1e-4 (tests).
"""

from functools import lru_cache

import numpy as np

CUP_PIECES = 100
FLARE_PIECES = 300
CUP_EXPONENTS = (0.2, 50.0)  # from a funnel with a lip to a cylinder with a flat floor


def frusta_volume(x, radius) -> float:
    """Volume in m3 of straight pieces through the points (x, radius) in metres."""
    a, b = radius[:-1], radius[1:]
    return float(np.sum(np.pi / 3 * np.diff(x) * (a * a + a * b + b * b)))


def cup_of_exponent(rim: float, throat: float, depth: float, exponent: float):
    """Cup of radius throat + (rim - throat) sqrt(1 - t^exponent), t = 0 at the rim and 1 at the
    throat, over `depth`; all metres."""
    # short steps at the throat, where the cup is steep, and at the rim, where a small exponent
    # makes it so
    s = np.linspace(0, 1, CUP_PIECES + 1)
    t = s**2 * (3 - 2 * s)
    return depth * t, throat + (rim - throat) * np.sqrt(1 - t**exponent)


def cup_volumes(rim: float, throat: float, depth: float) -> tuple[float, float]:
    """The least and the largest volume in m3 that such a cup can have."""
    low, high = (
        frusta_volume(*cup_of_exponent(rim, throat, depth, exponent)) for exponent in CUP_EXPONENTS
    )
    return low, high


def cup(rim: float, throat: float, depth: float, volume: float):
    """Cup of `volume` in m3, radii and depth in metres.  ValueError if it is out of reach."""
    return cup_of_exponent(rim, throat, depth, _exponent(rim, throat, depth, volume))


@lru_cache(maxsize=64)  # a chart asks for the same cup hundreds of times
def _exponent(rim: float, throat: float, depth: float, volume: float) -> float:
    low, high = cup_volumes(rim, throat, depth)
    if not low <= volume <= high:
        raise ValueError(f"cup volume {volume:g} m3: expected from {low:g} to {high:g}")
    below, above = np.log(CUP_EXPONENTS)
    for _ in range(60):  # bisection down to round-off: the volume grows with the exponent
        middle = 0.5 * (below + above)
        if frusta_volume(*cup_of_exponent(rim, throat, depth, np.exp(middle))) < volume:
            below = middle
        else:
            above = middle
    return np.exp(0.5 * (below + above))


def bessel(length: float, start: float, end: float, flare: float):
    """Bessel horn, radius b (length - x + x0)^-flare through both end radii; end > start.

    Half of the points are spread evenly over the length, half by equal ratios of the distance
    to the pole, where the horn opens.
    """
    to_end = length / np.expm1(np.log(end / start) / flare)  # x0
    to_start = to_end + length
    fine = np.concatenate(
        [np.linspace(to_start, to_end, 2001), np.geomspace(to_start, to_end, 2001)]
    )
    fine = np.sort(fine)[::-1]
    share = 0.5 * (to_start - fine) / length
    share += 0.5 * np.log(to_start / fine) / np.log(to_start / to_end)
    distance = np.interp(np.linspace(0, 1, FLARE_PIECES + 1), share, fine)
    x, radius = to_start - distance, end * (distance / to_end) ** -flare
    # both ends exactly, whatever the powers rounded to
    x[0], x[-1], radius[0], radius[-1] = 0.0, length, start, end
    return x, radius


def exponential(length: float, start: float, end: float):
    """Exponential horn through both end radii."""
    x = np.linspace(0, length, FLARE_PIECES + 1)
    return x, start * (end / start) ** (x / length)
