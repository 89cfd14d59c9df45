"""Make ``directivity.npz``: far-field patterns of pipes and bells by finite elements.

    python make_directivity.py [--output FILE] [--only NAME]

Method.  The model of ``make_bell_reference`` (lossless, axisymmetric, a rigid wall of zero thickness
in free space, a plane wave from the throat) with finer elements, to ka = 12.5 at the open end.  On
the outer sphere the pressure is a sum of spherical harmonics with exact outgoing waves; far away
each becomes e^(-jkr)/(kr) times its known phase, which gives the pattern: Q = intensity over its mean
over the sphere, every 5 degrees.

Kept for every shape: Q (ka, angle), the half angle of the last wave front as
``lipmodel.bore.wavefronts.end_angle`` finds it, and the share by which the power through the
sphere differs from what the throat lets in, a check of every single run.

Needs ``scikit-fem`` and ``gmsh`` (see ``axisymmetric_fem``); about ten minutes on one core.
"""

from __future__ import annotations

import argparse
import time
from pathlib import Path

import numpy as np
from make_bell_reference import SPEED_OF_SOUND, Horn, Settings, Shape, _mm
from scipy.special import eval_legendre, spherical_jn, spherical_yn

from lipmodel.bore import wavefronts
from lipmodel.bore.geometry import Bore

KA = np.concatenate([[0.15, 0.3, 0.5, 0.75], np.arange(1.0, 4.0, 0.3), np.arange(4.0, 12.6, 0.5)])
ANGLE = np.radians(np.arange(0.0, 181.0, 5.0))
PER_WAVE = 4.5  # quadratic elements in the shortest wave
# from these the table is made: end angles from 0 to 80 degrees
TABLE = {
    "pipe": _mm("cone", 20.0, 20.0, 150.0),
    "cone_15": _mm("cone", 10.0, 45.0, 130.0),
    "cone_35": _mm("cone", 10.0, 55.0, 64.0),
    "flare_45": _mm("bessel", 8.0, 60.0, 350.0, 0.35),
    "flare_55": _mm("bessel", 7.0, 60.0, 500.0, 0.55),
    "flare_62": _mm("bessel", 6.0, 60.0, 520.0, 0.62),
    "flare_68": _mm("bessel", 6.0, 62.0, 500.0, 0.75),
    "flare_73": _mm("bessel", 5.8, 64.0, 480.0, 0.95),
    "flare_78": _mm("bessel", 6.5, 80.0, 380.0, 1.2),
}
# and these only test it
HELD_BACK = {
    "wide_bell": _mm("bessel", 10.2, 105.0, 560.0, 0.72),
    "small_bell": _mm("bessel", 5.4, 55.0, 420.0, 0.6),
    "exponential": _mm("exponential", 6.0, 58.0, 300.0),
}


def end_angle(shape: Shape) -> float:
    """Return the half angle (rad) of the last wave front as the program sees it."""
    wall = shape.wall(400)
    return float(wavefronts.end_angle(Bore.from_points(wall[:, 0], wall[:, 1])))


def pattern(horn: Horn, k: float) -> tuple[np.ndarray, float]:
    """Return Q at every angle for the wave number ``k`` (1/m), and the power's relative error."""
    orders = np.arange(horn.settings.modes)
    pressure = horn.pressure(k)
    on_sphere = (2 * orders + 1) / (2 * horn.sphere**2) * (horn.harmonics.T @ pressure)
    z = k * horn.sphere
    outgoing = spherical_jn(orders, z) - 1j * spherical_yn(orders, z)
    # h_n(z) tends to j^(n+1) e^(-jz)/z
    far = on_sphere / outgoing * 1j ** (orders + 1.0)
    shape = eval_legendre(orders[:, None], np.cos(ANGLE)[None])
    mean = np.sum(np.abs(far) ** 2 / (2 * orders + 1))
    mouth = np.abs(horn.reflection(k)) ** 2
    # of a plane wave of 1 Pa: pi a^2 (1 - |R|^2)/(2 rho c) in, 4 pi mean/(2 rho c k^2) out
    entered, left = horn.shape.throat**2 * (1 - mouth), 4 * mean / k**2
    return np.abs(far @ shape) ** 2 / mean, float(left / entered - 1)


def patterns(shape: Shape) -> dict[str, np.ndarray]:
    """Return the arrays of one shape."""
    rows, errors = [], []
    shortest = 2 * np.pi * shape.mouth / KA[-1]
    edge = shortest / PER_WAVE
    sphere = 1.15 * (shape.length + 4 * shape.throat) / 2 + shape.mouth
    modes = int(1.15 * KA[-1] / shape.mouth * sphere) + 25
    horn = Horn(shape, Settings(largest=edge, outer=1.15, modes=modes))
    for ka in KA:
        q, error = pattern(horn, ka / shape.mouth)
        rows.append(q)
        errors.append(error)
    return {"Q": np.array(rows), "end_angle": end_angle(shape), "power_error": np.array(errors)}


def main() -> None:
    """Compute all shapes and write the file."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--output", type=Path, default=Path(__file__).with_name("directivity.npz"))
    parser.add_argument("--only")
    given = parser.parse_args()
    content = {"ka": KA, "angle": ANGLE, "speed_of_sound": SPEED_OF_SOUND}
    for name, shape in (TABLE | HELD_BACK).items():
        if given.only not in (None, name):
            continue
        start = time.perf_counter()
        for key, value in patterns(shape).items():
            content[f"{name}.{key}"] = np.asarray(value, np.float32 if key == "Q" else float)
        print(
            f"{name}: end angle {np.degrees(content[name + '.end_angle']):.1f} degrees, power "
            f"within {np.abs(content[name + '.power_error']).max():.1e}, "
            f"{time.perf_counter() - start:.0f} s",
            flush=True,
        )
    np.savez_compressed(given.output, **content)


if __name__ == "__main__":
    main()
