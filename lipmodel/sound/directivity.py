"""How a pipe or a bell spreads its sound: the far field of finite elements, kept as a table.

`directivity.npz` holds Q, the intensity over its mean over the sphere, by the half angle of the
last wave front (0: an unflanged pipe), ka and angle from the axis;
`tests/reference/make_directivity.py` makes it.  Between its angles it is a sum of cosines, which a
pattern is; between its bells it is read in straight lines, between its ka along a spline.
A flanged pipe has the textbook's piston in a wall, whose level at the side is kept behind it.
"""

from functools import cache
from pathlib import Path

import numpy as np

FAINTEST = 1e-5  # Q, in a null between two of the table's angles
ANGLES = 181  # of the sphere, for the piston's mean


@cache
def _table():
    """(end angles in radians, ka, cosine series of Q in the angle, shape (m, n, k))."""
    with np.load(Path(__file__).with_suffix(".npz")) as kept:
        ends, ka, angles, q = (kept[k].astype(float) for k in ("end_angle", "ka", "angle", "q"))
    waves = np.linalg.inv(np.cos(np.outer(angles, np.arange(len(angles)))))
    return ends, ka, q @ waves.T


def directivity(ka, angle, end_angle=0.0, end="unflanged"):
    """Intensity at `angle` from the axis over its mean over the sphere, shape of `ka`.

    ka: wave number times the radius of the open end, 0 or more; above the table's 12.5 the
    pattern of 12.5 is kept (ours).  angle, end_angle: radians, the last the half angle of the
    last wave front; end: "unflanged" or "flanged".

    >>> bool(directivity(3.0, 0.0)[0] > 9 * directivity(3.0, 1.5)[0])
    True
    """
    ka = np.atleast_1d(np.asarray(ka, float))
    if end == "flanged":
        return _in_a_wall(ka, angle)
    ends, known, series = _table()
    end_angle = float(np.clip(end_angle, ends[0], ends[-1]))
    after = int(np.clip(np.searchsorted(ends, end_angle), 1, len(ends) - 1))
    share = (end_angle - ends[after - 1]) / (ends[after] - ends[after - 1])
    mixed = (1 - share) * series[after - 1] + share * series[after]
    here = np.maximum(mixed @ np.cos(angle * np.arange(mixed.shape[1])), FAINTEST)
    return _smooth(known, here, np.minimum(ka, known[-1]))


def _smooth(known, here, ka):
    """Q between the table's ka without kinks, whose echo in a filter would be long; a small source
    sends out alike to all sides, and Q is even in ka."""
    from scipy.interpolate import CubicSpline  # slow to load: kept filters do without

    x, q = np.r_[0.0, known], np.r_[1.0, here]
    found = CubicSpline(x, np.log(q), bc_type=((1, 0.0), (1, 0.0)))(ka)
    return np.exp(found)


def _in_a_wall(ka, angle):
    """Piston of radius a, (2 J1(x)/x)^2 with x = ka sin(angle) (textbook: -3 dB at x = 1.6163,
    first null at 3.8317), behind it as at its side; the integral over the sphere is 4 pi."""
    angles = np.linspace(0, np.pi, ANGLES)
    pattern = _piston(ka[:, None] * np.sin(np.minimum(angles, np.pi / 2)))
    mean = np.trapezoid(pattern * np.sin(angles), angles, axis=1) / 2
    return _piston(ka * np.sin(min(angle, np.pi / 2))) / mean


def _piston(x):
    from scipy.special import j1  # slow to load, and few pipes have a flange

    x = np.asarray(x, float)
    small = np.abs(x) < 1e-6
    safe = np.where(small, 1.0, x)
    return np.where(small, 1.0, (2 * j1(safe) / safe) ** 2)
