"""Bores for tests, drawn here and not by the package's own shapes."""

import numpy as np
from scipy.optimize import brentq

from lipmodel.acoustics.impedance import impedance
from lipmodel.bore.geometry import Bore


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


def exact_peaks(bore, air, count, highest=1500.0, wavefront="plane"):
    """Lossless resonances (Hz): zeros of the input admittance."""

    def susceptance(frequency):
        # a search may hit a lossless resonance to the last bit, where the impedance is infinite
        with np.errstate(divide="ignore", invalid="ignore"):
            z = impedance(bore, air, np.atleast_1d(frequency), False, "node", wavefront)
            return np.nan_to_num((1 / z).imag)

    grid = np.arange(20.0, highest, 1.0)
    y = susceptance(grid)
    rising = np.flatnonzero((y[:-1] < 0) & (y[1:] > 0))
    return [brentq(lambda f: susceptance(f)[0], grid[i], grid[i + 1]) for i in rising][:count]


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


SLIDE_BORE = """title = "Test slide"
kind = "instrument"
end = "unflanged"
pitched_in = "C"
transposition_semitones = 0
player = "large"
fundamental = "Bb1"

[[section]]
name = "mouthpiece"
shape = "mouthpiece"
rim_diameter_mm = 25.5
cup_depth_mm = 24.0
cup_volume_ml = 8.5
throat_diameter_mm = 6.7
throat_length_mm = 8.0
backbore_length_mm = 55.0
backbore_end_diameter_mm = 11.5

[[section]]
name = "leadpipe"
shape = "cone"
length_mm = 220.0
start_diameter_mm = 11.5
end_diameter_mm = 13.9

[[section]]
shape = "cylinder"
length_mm = 1500.0
diameter_mm = 13.9
slide = true

[[section]]
name = "bell"
shape = "cone"
length_mm = 330.0
start_diameter_mm = 13.9
end_diameter_mm = 20.0

[[section]]
name = "bell"
shape = "bessel"
length_mm = 580.0
start_diameter_mm = 20.0
end_diameter_mm = 216.0
flare = 0.6
"""


def slide_scene(folder, rest: str):
    """A scene file in `folder` that plays `SLIDE_BORE`; `rest` follows [instrument]."""
    (folder / "slide.toml").write_text(SLIDE_BORE, encoding="utf-8")
    path = folder / "scene.toml"
    path.write_text(f'[instrument]\nbore = "slide.toml"\n{rest}', encoding="utf-8")
    return path
