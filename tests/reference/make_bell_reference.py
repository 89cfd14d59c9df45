"""Make ``bell_reference.json``: finite-element throat reflections of unflanged horns.

Method. The lossless axisymmetric Helmholtz equation (time factor e^{+jwt}) is solved inside and
around a horn with a rigid wall of ZERO thickness in free space: the two sides of the wall are
separate boundaries of the mesh that meet only at the rim. A cylindrical lead-in of three throat
radii brings a plane wave; its closed rear face and the outer side of the horn are rigid. The
reflection is de-embedded to the throat plane x = 0, where the flare starts. Curved quadratic
triangles, four to a local radius (smaller towards the rim, where the pressure gradient is
singular), at most 12 mm. The outer boundary is a sphere around the whole horn with the EXACT
outgoing condition, expanded in 45 spherical harmonics (spherical Hankel functions of the second
kind); so there is no absorbing layer to tune.

Checks, repeated by every run and stored in the file (found 2026-11-24):

* A straight pipe (radius 50 mm, length 1 m) against the semi-infinite pipe of H. Levine and
  J. Schwinger, "On the radiation of sound from an unflanged circular pipe", Physical Review 73,
  1948, ka = 0.1 to 2: |R| within 0.02 %, end correction within 0.05 % (0.11 % at ka = 2).
* The trumpet bell with one setting changed (largest change, 100 to 1500 Hz; lengths are
  phase / 2k): all edges halved 2e-5 in |R| and 0.002 mm; rim edge / 5 the same size; outer
  radius x 1.4 or / 1.15 4e-6 and 0.0002 mm; 15 more harmonics below 1e-9.

Rerun: ``python make_bell_reference.py [--output FILE]``; about four minutes on one core. Extra
packages: ``scikit-fem`` and ``gmsh`` (see ``axisymmetric_fem``).
"""

from __future__ import annotations

import argparse
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from axisymmetric_fem import (
    AIR_DENSITY,
    SPEED_OF_SOUND,
    add_curve,
    add_line,
    add_point,
    add_surface,
    equivalent_length,
    make_basis,
    mass_form,
    meshing,
    quadratic_mesh,
    stiffness_form,
    write_json,
)
from scipy.sparse.linalg import splu
from scipy.special import eval_legendre, spherical_jn, spherical_yn
from skfem import FacetBasis, LinearForm, MeshTri2

FREQUENCIES = np.arange(100.0, 1501.0, 50.0)  # Hz
WALL_POINTS = 400  # points of the wall curve given to the mesher

# Levine & Schwinger (1948), semi-infinite thin-walled pipe: ka, |R| and end correction l/a.
LEVINE_SCHWINGER = (
    (0.1, 0.99507, 0.61099),
    (0.2, 0.98086, 0.60638),
    (0.5, 0.89644, 0.58184),
    (1.0, 0.69510, 0.52743),
    (1.5, 0.50079, 0.47127),
    (2.0, 0.34618, 0.41694),
)


@dataclass(frozen=True)
class Shape:
    """Wall radius r(x) of a horn from the throat (x = 0) to the mouth (x = length); metres.

    kind "bessel": r = b (length - x + x0)^(-g); "cone": straight; "exponential": r0 e^(m x).
    """

    kind: str
    throat: float
    mouth: float
    length: float
    g: float = 0.0

    @property
    def x0(self) -> float:
        """Return the mouth offset x0 (m) that leads a Bessel flare through both ends."""
        return self.length / ((self.mouth / self.throat) ** (1.0 / self.g) - 1.0)

    def radius(self, x: np.ndarray) -> np.ndarray:
        """Return the wall radius (m) at ``x`` (m), held at its end values outside the horn."""
        x = np.clip(x, 0.0, self.length)
        if self.kind == "bessel":
            return self.mouth * ((self.length - x + self.x0) / self.x0) ** -self.g
        if self.kind == "exponential":
            return self.throat * (self.mouth / self.throat) ** (x / self.length)
        return self.throat + (self.mouth - self.throat) * x / self.length

    def wall(self, count: int) -> np.ndarray:
        """Return ``count`` rows (x, r), m, about equally spaced along the wall arc."""
        x = np.linspace(0.0, self.length, 40 * count)
        arc = np.concatenate(([0.0], np.cumsum(np.hypot(np.diff(x), np.diff(self.radius(x))))))
        x = np.interp(np.linspace(0.0, arc[-1], count), arc, x)
        return np.column_stack((x, self.radius(x)))

    def describe(self) -> dict:
        """Return the profile and its parameters for the reference file (m)."""
        out = {"profile": self.kind, "throat_radius_m": self.throat}
        out |= {"mouth_radius_m": self.mouth, "length_m": self.length}
        if self.kind == "bessel":
            b = self.mouth * self.x0**self.g
            out |= {"formula": "r = b (length - x + x0)^(-g)", "g": self.g, "x0_m": self.x0}
            out |= {"b_m_to_1_plus_g": b}
        elif self.kind == "exponential":
            out |= {"formula": "r = throat exp(m x)"}
            out |= {"m_per_m": np.log(self.mouth / self.throat) / self.length}
        else:
            out |= {"formula": "r = throat + (mouth - throat) x / length"}
        return out


def _mm(kind: str, throat: float, mouth: float, length: float, g: float = 0.0) -> Shape:
    """Return a shape from sizes in mm."""
    return Shape(kind, throat * 1e-3, mouth * 1e-3, length * 1e-3, g)


SHAPES = {
    "trumpet_bell": _mm("bessel", 5.83, 61.0, 560.0, 0.7),
    "trombone_bell": _mm("bessel", 10.2, 108.0, 570.0, 0.7),
    "cone": _mm("cone", 5.83, 61.0, 560.0),
    "exponential": _mm("exponential", 5.83, 61.0, 560.0),
    "bessel_05": _mm("bessel", 5.83, 61.0, 600.0, 0.5),
    "bessel_10": _mm("bessel", 5.83, 61.0, 480.0, 1.0),
    "flugel_bell": _mm("bessel", 5.4, 78.0, 620.0, 0.55),
    "horn_bell": _mm("bessel", 6.0, 150.0, 700.0, 0.8),
    "funnel": _mm("cone", 4.6, 55.0, 150.0),
    "wide_trombone": _mm("bessel", 10.8, 122.0, 600.0, 0.6),
}


@dataclass(frozen=True)
class Settings:
    """Resolution: element sizes and outer boundary."""

    per_radius: float = 4.0  # elements in one local wall radius
    largest: float = 12e-3  # m, longest element edge
    rim: float = 0.02e-3  # m, edge length at the rim, where the pressure gradient is singular
    growth: float = 0.15  # growth of the edge length with the distance from the rim
    outer: float = 1.3  # outer sphere radius over that of the least sphere around the horn
    modes: int = 45  # spherical harmonics in the exact outer condition


class Horn:
    """Finite-element model of one horn with a rigid wall of zero thickness in free space."""

    def __init__(self, shape: Shape, settings: Settings) -> None:
        self.shape = shape
        self.settings = settings
        # Long enough for the first cross mode (wave number 3.83 / radius) to die out.
        self.lead = 3.0 * shape.throat
        # The least sphere around the lead-in's back face and the rim.
        span = shape.length + self.lead
        self.centre = (shape.length**2 + shape.mouth**2 - self.lead**2) / (2.0 * span)
        self.sphere = settings.outer * (self.centre + self.lead)
        self.mesh = self._mesh()
        self._assemble()

    def _size(self, x: float, r: float) -> float:
        """Return the wanted edge length (m) at (x, r)."""
        s, shape = self.settings, self.shape
        behind = max(0.0, -self.lead - x, x - shape.length)
        local = max(float(shape.radius(x)), r, behind) / s.per_radius
        edge = s.rim + s.growth * np.hypot(x - shape.length, r - shape.mouth)
        return min(s.largest, local, edge)

    def _mesh(self) -> MeshTri2:
        """Mesh the inside and the outside; they share only the mouth disc and the rim."""
        shape, lead, centre, sphere = self.shape, self.lead, self.centre, self.sphere
        wall = shape.wall(WALL_POINTS)[1:-1]
        with meshing(self._size):
            rim = add_point(shape.length, shape.mouth)
            mouth_axis = add_point(shape.length, 0.0)
            disc = add_line(mouth_axis, rim)
            sides = []
            for _ in ("inside", "outside"):
                throat, back = add_point(0.0, shape.throat), add_point(-lead, shape.throat)
                axis = add_point(-lead, 0.0)
                flare = add_curve(throat, wall, rim)
                sides.append((flare, add_line(back, throat), add_line(axis, back), axis))
            flare, pipe, source, axis = sides[0]
            add_surface([add_line(axis, mouth_axis), disc, flare, pipe, source])
            flare, pipe, face, axis = sides[1]
            front, rear = add_point(centre + sphere, 0.0), add_point(centre - sphere, 0.0)
            arcs = self._arcs(front, rear)
            around = [add_line(mouth_axis, front), *arcs, add_line(rear, axis)]
            add_surface([*around, face, pipe, flare, disc])
            return quadratic_mesh({"source": [source], "sphere": arcs})

    def _arcs(self, front: int, rear: int) -> list[int]:
        """Add the outer half circle from the front to the rear as two smooth curves."""
        angle = np.linspace(0.0, np.pi, 2 * WALL_POINTS + 1)
        circle = np.column_stack((np.cos(angle), np.sin(angle))) * self.sphere
        circle[:, 0] += self.centre
        top = add_point(*circle[WALL_POINTS])
        first = add_curve(front, circle[1:WALL_POINTS], top)
        return [first, add_curve(top, circle[WALL_POINTS + 1 : -1], rear)]

    def _assemble(self) -> None:
        """Assemble all matrices that do not depend on the frequency."""
        basis = make_basis(self.mesh)
        self.stiffness = stiffness_form.assemble(basis)
        self.mass = mass_form.assemble(basis)
        source = self._facet_basis("source")
        self.source_mass = mass_form.assemble(source)
        self.source_load = LinearForm(lambda q, w: q * w.x[1]).assemble(source)
        outer = self._facet_basis("sphere")
        self.outer_mass = mass_form.assemble(outer)
        orders = range(self.settings.modes)
        self.harmonics = np.column_stack([self._harmonic(outer, n) for n in orders])

    def _facet_basis(self, name: str) -> FacetBasis:
        """Return the basis on a named boundary."""
        facets = self.mesh.boundaries[name]
        return FacetBasis(self.mesh, make_basis(self.mesh).elem, facets=facets, intorder=8)

    def _harmonic(self, outer: FacetBasis, n: int) -> np.ndarray:
        """Return the load vector of the Legendre polynomial of order n on the sphere (m^2)."""
        form = LinearForm(
            lambda q, w: q * eval_legendre(n, (w.x[0] - self.centre) / self.sphere) * w.x[1]
        )
        return form.assemble(outer)

    def _outer_slopes(self, k: float) -> np.ndarray:
        """Return dp/dn over p (1/m) on the sphere for outgoing waves of each order."""
        n, z = np.arange(self.settings.modes), k * self.sphere
        wave = spherical_jn(n, z) - 1j * spherical_yn(n, z)
        slope = spherical_jn(n, z, derivative=True) - 1j * spherical_yn(n, z, derivative=True)
        return k * slope / wave

    def pressure(self, k: float) -> np.ndarray:
        """Return the nodal pressure at wave number ``k`` (1/m) for a unit incident wave."""
        radius = self.sphere
        # Order 0 is exact as a local term; the rest is added as a low-rank correction.
        local = 1j * k + 1.0 / radius
        matrix = self.stiffness - k**2 * self.mass
        matrix = matrix + 1j * k * self.source_mass + local * self.outer_mass
        solve = splu(matrix.tocsc()).solve
        orders = np.arange(self.settings.modes)
        weight = (self._outer_slopes(k) + local) * (2 * orders + 1) / (2.0 * radius**2)
        # Unit incident wave at the source plane: dp/dn + jk p = 2 jk.
        direct = solve(2j * k * self.source_load)
        spread = solve(self.harmonics.astype(complex))
        coupling = np.eye(len(weight)) - weight[:, None] * (self.harmonics.T @ spread)
        modal = np.linalg.solve(coupling, weight * (self.harmonics.T @ direct))
        return direct + spread @ modal

    def reflection(self, k: float) -> complex:
        """Return p-/p+ at the throat plane x = 0 for the wave number ``k`` (1/m)."""
        # The mean over the source disc holds the plane wave only: cross modes have none.
        mean = self.source_load @ self.pressure(k) / self.source_load.sum()
        return (mean - 1.0) * np.exp(2j * k * self.lead)

    def reflections(self, k: np.ndarray) -> np.ndarray:
        """Return the throat reflection for every wave number in ``k`` (1/m)."""
        return np.array([self.reflection(value) for value in k])


def validate(settings: Settings) -> list[dict]:
    """Compare an unflanged straight pipe with Levine & Schwinger (1948); print and return."""
    radius, length = 0.05, 1.0  # m
    pipe = Horn(Shape("cone", radius, radius, length), settings)
    rows = []
    for ka, modulus, correction in LEVINE_SCHWINGER:
        k = ka / radius
        mouth = pipe.reflection(k) * np.exp(2j * k * length)
        found = equivalent_length(-mouth, k) / radius
        row = {"ka": ka, "modulus": abs(mouth), "modulus_levine_schwinger": modulus}
        row |= {"end_correction": found, "end_correction_levine_schwinger": correction}
        rows.append({name: round(float(value), 5) for name, value in row.items()})
        print(rows[-1], f"{abs(mouth) / modulus - 1:+.3%} {found / correction - 1:+.3%}")
    return rows


def converge(shape: Shape, base: Settings) -> dict:
    """Return how |R| and the equivalent length change when one setting is made finer."""
    k = 2.0 * np.pi * FREQUENCIES[::4] / SPEED_OF_SOUND
    reference = Horn(shape, base).reflections(k)
    half = {"per_radius": 2 * base.per_radius, "largest": base.largest / 2}
    half |= {"rim": base.rim / 2, "growth": base.growth / 2}
    trials = {
        "all edges halved": half,
        "rim edge / 5": {"rim": base.rim / 5},
        "outer radius x 1.4": {"outer": base.outer * 1.4},
        "outer radius / 1.15": {"outer": base.outer / 1.15},
        "15 more harmonics": {"modes": base.modes + 15},
    }
    out = {}
    for name, change in trials.items():
        trial = Horn(shape, Settings(**{**base.__dict__, **change})).reflections(k)
        out[name] = {
            "max_change_of_modulus": float(np.max(np.abs(np.abs(trial) - np.abs(reference)))),
            "max_change_of_length_mm": float(
                1e3 * np.max(np.abs(equivalent_length(trial / reference, k)))
            ),
        }
        print(name, out[name])
    return out


def main() -> None:
    """Validate, check convergence, compute all shapes and write the reference file."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    default = Path(__file__).with_name("bell_reference.json")
    parser.add_argument("--output", type=Path, default=default)
    output = parser.parse_args().output
    settings = Settings()
    content = {
        "time_factor": "exp(+jwt)",
        "quantity": "pressure reflection p-/p+ at the throat plane x = 0",
        "speed_of_sound_m_per_s": SPEED_OF_SOUND,
        "density_kg_per_m3": AIR_DENSITY,
        "wall": "rigid, zero thickness, unflanged, free space, lossless air",
        "validation_straight_pipe": {str(row["ka"]): row for row in validate(settings)},
        "convergence_trumpet_bell": converge(SHAPES["trumpet_bell"], settings),
        "frequencies_hz": FREQUENCIES.tolist(),
        "shapes": {},
    }
    k = 2.0 * np.pi * FREQUENCIES / SPEED_OF_SOUND
    for name, shape in SHAPES.items():
        start = time.perf_counter()
        horn = Horn(shape, settings)
        found = horn.reflections(k)
        content["shapes"][name] = shape.describe() | {
            "re": np.round(found.real, 7).tolist(),
            "im": np.round(found.imag, 7).tolist(),
        }
        nodes = horn.mesh.doflocs.shape[1]
        print(f"{name}: {nodes} nodes, {time.perf_counter() - start:.1f} s, {horn.sphere:.3f} m")
    write_json(output, content)


if __name__ == "__main__":
    main()
