"""Breath and lips against time: breakpoints to arrays, one value a sample."""

import numpy as np


def line(points, rate, samples, start=0):
    """Straight lines between breakpoints [(time_s, value), ...] or one number, shape (samples,).

    Held at both ends; `start` is the number of the first sample at `rate` Hz.
    """
    if np.isscalar(points):
        return np.full(samples, float(points))
    times, values = np.array(points, float).T
    return np.interp((start + np.arange(samples)) / rate, times, values)


def scaled(points, factor):
    """The same breakpoints with every value times `factor`: kPa to Pa."""
    if np.isscalar(points):
        return float(points) * factor
    return [(t, v * factor) for t, v in points]
