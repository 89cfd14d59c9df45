"""What stands in a bell and narrows it: a mute on its corks, a player's hand.

Both leave less cross-section over a stretch of the bore, and that is all that is changed: the
acoustics sees a bore of the area that is left.  A mute is a closed cone; the ring of air around
it keeps its area, the circle of that area its radius.
"""

import numpy as np

from lipmodel.errors import SceneError
from lipmodel.units import MM

POINTS = 60  # along an obstacle


def with_mute(x, radius, length: float, small: float, large: float, gap: float):
    """(x, radius) of a bell with a closed cone pushed in until corks of thickness `gap` touch.

    x, radius: the bore in metres, each of shape (n,); `length` of the cone, `small` and `large`
    radius of its ends, metres.  Raises SceneError where the cone does not go in or slips through.
    """
    from scipy.optimize import brentq  # slow to load, and few bells have a mute

    mouth, end = float(radius[-1]), float(x[-1])
    if small + gap >= mouth:
        raise SceneError(
            f"the mute does not go into the bell: its small end with corks is "
            f"{2 * (small + gap) / MM:.0f} mm wide, the bell {2 * mouth / MM:.0f} mm"
        )
    along = np.linspace(0.0, length, 400)
    cone = small + (large - small) * along / length

    def narrowest(start):
        inside = start + along <= end
        return float(np.min(_radius(x, radius, start + along[inside]) - cone[inside])) - gap

    first = float(x[0])
    if narrowest(first) > 0:
        raise SceneError("the mute slips through the bore: expected a wider one, or thicker corks")
    start = brentq(narrowest, first, end - 1e-6)
    at = np.linspace(start, min(end, start + length), POINTS)
    left = _radius(x, radius, at) ** 2 - (small + (large - small) * (at - start) / length) ** 2
    if not np.all(left > 0):  # at a sudden step, or before one
        raise SceneError(
            "the mute does not stand in the bore: expected one that widens without a sudden step "
            "where the mute stands"
        )
    beyond = x > at[-1]
    # sudden steps at both ends of the cone, the second one inside the bell or not at all
    rim = at[-1:] if beyond.any() else at[:0]
    return (
        np.concatenate([x[x < start], [start], at, rim, x[beyond]]),
        np.concatenate(
            [
                radius[x < start],
                [_radius(x, radius, start)],
                np.sqrt(left),
                _radius(x, radius, rim),
                radius[beyond],
            ]
        ),
    )


def with_hand(x, radius, open_share: float, depth: float, length: float):
    """(x, radius) of a bell in which a hand leaves `open_share` of the area.

    The hand lies around `depth` from the open end over `length` (metres), thickest in its
    middle (a raised cosine).  Raises SceneError where it would reach beyond the bore.
    """
    end = float(x[-1])
    middle = end - depth
    first, last = middle - length / 2, min(end, middle + length / 2)
    if first <= x[0]:
        raise SceneError(f"the hand reaches beyond the bore, which is {end / MM:.0f} mm long")
    at = np.linspace(first, last, POINTS)
    taken = (1 - open_share) * np.cos(np.pi * (at - middle) / length) ** 2
    narrowed = _radius(x, radius, at) * np.sqrt(1 - taken)
    return (
        np.concatenate([x[x < first], at, x[x > last]]),
        np.concatenate([radius[x < first], narrowed, radius[x > last]]),
    )


def _radius(x, radius, at):
    # a bell has no sudden steps
    return np.interp(at, x, radius)
