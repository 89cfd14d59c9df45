"""Make the far-field patterns of pipes and bells by finite elements.

    python make_directivity.py [--table FILE] [--output FILE]

Writes the table that the program reads (``lipmodel/sound/directivity.npz``) and, to
``directivity.npz`` here, patterns of bells that are not in it and only test it.

Method.  The model of ``make_bell_reference`` (lossless, axisymmetric, a rigid wall of zero
thickness in free space, a plane wave from the throat) with finer elements, to ka = 12.5 at the
open end.  On the outer sphere the pressure is a sum of spherical harmonics with exact outgoing
waves; far away each becomes e^(-jkr)/(kr) times its known phase, which gives the pattern: Q =
intensity over its mean over the sphere, every 5 degrees.

Kept for every shape: Q (ka, angle), the half angle of the last wave front as
``lipmodel.bore.wavefronts.end_angle`` finds it, and the share by which the power through the
sphere differs from what the throat lets in, a check of every single run (of the pipe only below
ka = 3.83, where no other mode runs).

Needs ``scikit-fem`` and ``gmsh`` (see ``axisymmetric_fem``); about ten minutes on one core.
"""

from __future__ import annotations

import argparse
import time
from pathlib import Path

import numpy as np
from make_bell_reference import Horn, Settings, Shape, _mm
from scipy.special import eval_legendre, spherical_jn, spherical_yn

from lipmodel.bore import wavefronts
from lipmodel.bore.geometry import Bore

KA = np.concatenate([[0.15, 0.3, 0.5, 0.75], np.arange(1.0, 4.0, 0.3), np.arange(4.0, 12.6, 0.5)])
ANGLE = np.radians(np.arange(0.0, 181.0, 5.0))
PROGRAM = Path(__file__).parents[2] / "lipmodel" / "sound" / "directivity.npz"
PER_WAVE = 4.5  # quadratic elements in the shortest wave
# from these the table is made: end angles from 0 to 80 degrees
TABLE = {
    "pipe": _mm("cone", 20.0, 20.0, 150.0),
    "cone_15": _mm("cone", 10.0, 45.0, 130.0),
    "cone_35": _mm("cone", 10.0, 55.0, 64.0),
    "flare_43": _mm("bessel", 6.0, 60.0, 500.0, 0.86),
    "flare_53": _mm("bessel", 6.0, 60.0, 600.0, 0.7),
    "flare_61": _mm("bessel", 6.0, 60.0, 600.0, 0.6),
    "flare_69": _mm("bessel", 6.0, 60.0, 600.0, 0.5),
    "flare_74": _mm("bessel", 6.0, 60.0, 480.0, 0.45),
    "flare_78": _mm("bessel", 6.0, 60.0, 400.0, 0.4),
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
    """Compute all shapes; write the program's table and the patterns that test it."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--table", type=Path, default=PROGRAM)
    parser.add_argument("--output", type=Path, default=Path(__file__).with_name("directivity.npz"))
    given = parser.parse_args()
    rows, content = {}, {"ka": KA, "angle": ANGLE}
    for name, shape in (TABLE | HELD_BACK).items():
        start = time.perf_counter()
        rows[name] = patterns(shape)
        angle, errors = rows[name]["end_angle"], np.abs(rows[name]["power_error"])
        print(
            f"{name}: end angle {np.degrees(angle):.1f} degrees, power within {errors.max():.1e}, "
            f"{time.perf_counter() - start:.0f} s",
            flush=True,
        )
    for name in HELD_BACK:
        content |= {f"{name}.{key}": np.asarray(value) for key, value in rows[name].items()}
    np.savez_compressed(given.output, **content)
    np.savez_compressed(
        given.table,
        end_angle=np.array([rows[name]["end_angle"] for name in TABLE]),
        ka=KA,
        angle=ANGLE,
        q=np.array([rows[name]["Q"] for name in TABLE], np.float32),
    )


if __name__ == "__main__":
    main()
