"""Bores for tests, drawn here and not by the package's own shapes."""

import numpy as np

from lipmodel.bore import Bore


def finite_element_shape(shape: dict, points=401) -> Bore:
    """The bore of a row of tests/reference/bell_reference.json."""
    length, throat, mouth = (
        shape["length_m"],
        shape["throat_radius_m"],
        shape["mouth_radius_m"],
    )
    t = np.linspace(0, 1, points)
    if shape["profile"] == "bessel":
        x0 = shape["x0_m"]
        pole = 0.5 * (length * (1 - t) + x0) + 0.5 * np.geomspace(length + x0, x0, points)
        x = length + x0 - pole
        x[0] = 0.0
        return Bore(x, mouth * (pole / x0) ** -shape["g"])
    if shape["profile"] == "exponential":
        return Bore(length * t, throat * np.exp(shape["m_per_m"] * length * t))
    return Bore([0, length], [throat, mouth])


def random_bore(seed: int) -> Bore:
    """3 to 8 cylinders and cones of 20-600 mm and 2-60 mm radius, 0.3-3 m in all."""
    rng = np.random.default_rng(seed)
    count = rng.integers(3, 9)
    lengths = rng.uniform(0.02, 0.6, count)
    lengths = np.maximum(lengths * min(1, rng.uniform(0.3, 3) / lengths.sum()), 0.0155)
    lengths *= np.clip(lengths.sum(), 0.3, 3.0) / lengths.sum()
    x, radius, at = [], [], 0.0
    for length in lengths:
        if rng.random() < 0.5:
            a, b = np.exp(rng.uniform(np.log(2e-3), np.log(60e-3), 2))
        else:
            a, b = rng.uniform(2e-3, 60e-3, 2)
        if rng.random() < 0.4:
            b = a
        if x and rng.random() < 0.5:
            a = radius[-1]
        x += [at, at + length]
        radius += [a, b]
        at += length
    return Bore(x, radius)
