"""Make ``cone_load_reference.json``: radiation load of a cone with a thin rigid wall.

Method: the finite-element horn of ``make_bell_reference`` with a straight cone. Inside a cone the
mean of the pressure over a spherical cap round the apex holds the spherical wave alone (all
other modes of a rigid cone have zero mean there). So the means over two caps give the outgoing
and the returning spherical wave, and with them Z = p / U on the cap through the rim, free from
what happens at the throat. Stored is z = Z S_disc / (rho c) with S_disc = pi a^2 (a: rim radius)
and the time factor e^{+jwt}; the half angle is that between axis and wall.

Rerun: ``python make_cone_load_reference.py [--output FILE]``; about two minutes on one core.
Extra packages: ``scikit-fem`` and ``gmsh`` (see ``axisymmetric_fem``).
"""

from __future__ import annotations

import argparse
from pathlib import Path

import numpy as np
from axisymmetric_fem import write_json
from make_bell_reference import Horn, Settings, Shape
from skfem import Basis, ElementTriP2, MeshTri

RIM_RADIUS = 0.05  # m; the load depends on ka and the angle only
ANGLES = (2.5, 5.0, 12.0, 22.0, 33.0, 45.0, 55.0, 65.0, 75.0, 85.0)  # degrees
KA = (0.1, 0.2, 0.35, *np.arange(0.5, 4.26, 0.25))
CAP_PLACES = (0.55, 0.8)  # of the way from the throat to the rim
CAP_POINTS = 24  # Gauss points on a cap


def cone_load(angle: float) -> np.ndarray:
    """Return z = Z S_disc / (rho c) on the rim cap for every ka; ``angle`` in rad."""
    # A slender cone is cut short (the throat may be wide), a wide one needs a small throat.
    throat = RIM_RADIUS * (0.6 if angle < np.radians(10.0) else 0.2)
    length = (RIM_RADIUS - throat) / np.tan(angle)
    horn = Horn(Shape("cone", throat, RIM_RADIUS, length), Settings())
    apex = -throat / np.tan(angle)
    near, rim = throat / np.sin(angle), RIM_RADIUS / np.sin(angle)
    distances = [near + (rim - near) * place for place in CAP_PLACES]

    # The probe needs straight elements; near a straight wall they are the same ones.
    mesh = horn.mesh
    straight = MeshTri(mesh.doflocs[:, : mesh.t.max() + 1].copy(), mesh.t.copy())
    basis = Basis(straight, ElementTriP2())
    gauss, weight = np.polynomial.legendre.leggauss(CAP_POINTS)
    cosine = np.cos(angle) + (1.0 - np.cos(angle)) * (gauss + 1.0) / 2.0
    direction = np.array([cosine, np.sqrt(1.0 - cosine**2)])
    shift = np.array([[apex], [0.0]])
    probes = [basis.probes(s * direction + shift) for s in distances]

    loads = []
    for k in np.array(KA) / RIM_RADIUS:
        pressure = horn.pressure(k)
        waves = [
            s * (weight @ (m @ pressure)) / 2.0 for s, m in zip(distances, probes, strict=True)
        ]
        powers = [[np.exp(-1j * k * s), np.exp(1j * k * s)] for s in distances]
        out, back = np.linalg.solve(np.array(powers), np.array(waves))
        out, back = out * np.exp(-1j * k * rim), back * np.exp(1j * k * rim)
        # p = (out + back) / s, and U S_cap = -(dp/ds) / (j k) in units of rho c.
        slope = 1j * k * (back - out) - (out + back) / rim
        loads.append(-1j * k * (out + back) / slope)
    # S_cap = S_disc 2 / (1 + cos(angle)).
    return np.array(loads) * (1.0 + np.cos(angle)) / 2.0


def main() -> None:
    """Compute the load for all angles and write the reference file."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    default = Path(__file__).with_name("cone_load_reference.json")
    parser.add_argument("--output", type=Path, default=default)
    output = parser.parse_args().output
    content = {
        "quantity": "z = Z S_disc / (rho c) on the rim cap, time factor exp(+jwt)",
        "ka": [round(float(value), 3) for value in KA],
        "half_angle_degrees": {},
    }
    for angle in ANGLES:
        load = cone_load(np.radians(angle))
        content["half_angle_degrees"][str(angle)] = {
            "re": np.round(load.real, 6).tolist(),
            "im": np.round(load.imag, 6).tolist(),
        }
        print(angle, np.round(load[[0, 5, 10]], 4))
    write_json(output, content)


if __name__ == "__main__":
    main()
