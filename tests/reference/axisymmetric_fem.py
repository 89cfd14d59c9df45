"""Shared tools of the axisymmetric finite-element reference scripts.

A meridian half-plane (x along the axis, r >= 0 from the axis, metres) is meshed with curved
quadratic triangles, and the lossless Helmholtz equation

    integral (grad p . grad q - k^2 p q) r dx dr = boundary terms

is assembled on it with quadratic elements (isoparametric: the wall keeps its curvature).

Needs: numpy, scipy, scikit-fem 12 and, for the meshes, the package ``gmsh`` (pip install gmsh;
on a bare Linux system also libglu1-mesa, libxrender1, libxcursor1, libxft2 and libxinerama1).
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import gmsh
import numpy as np
from skfem import Basis, BilinearForm, ElementTriP2, MeshTri, MeshTri2
from skfem.helpers import dot, grad

SPEED_OF_SOUND = 343.2  # m/s
AIR_DENSITY = 1.2  # kg/m^3; it cancels in a reflection coefficient and in an eigenfrequency
QUADRATURE_ORDER = 6  # degree; 2 x quadratic plus the factor r plus the curved Jacobian


@contextmanager
def meshing(size: Callable[[float, float], float]) -> Iterator[None]:
    """Open a mesher session whose wanted edge length is ``size(x, r)`` (m)."""
    gmsh.initialize()
    try:
        gmsh.option.setNumber("General.Terminal", 0)
        gmsh.option.setNumber("General.NumThreads", 1)
        # The size function alone decides: no size from points or spread from the boundary.
        for option in ("FromPoints", "FromCurvature", "ExtendFromBoundary"):
            gmsh.option.setNumber("Mesh.MeshSize" + option, 0)
        # Without this the 1-D meshes follow a coarse sampling of the size function.
        gmsh.option.setNumber("Mesh.LcIntegrationPrecision", 1e-5)
        gmsh.model.mesh.setSizeCallback(lambda dim, tag, x, y, z, lc: size(x, y))
        yield
    finally:
        gmsh.finalize()


def add_point(x: float, r: float) -> int:
    """Add the point (x, r) in m; equal points stay separate (two sides of a thin wall)."""
    return gmsh.model.geo.addPoint(x, r, 0.0)


def add_line(start: int, end: int) -> int:
    """Add a straight line between two points."""
    return gmsh.model.geo.addLine(start, end)


def add_curve(start: int, inner: np.ndarray, end: int) -> int:
    """Add a smooth curve through ``start``, the rows (x, r) of ``inner`` (m) and ``end``."""
    return gmsh.model.geo.addSpline([start, *(add_point(x, r) for x, r in inner), end])


def add_surface(curves: list[int]) -> int:
    """Add the surface inside a closed loop of curves (the mesher sorts out directions)."""
    loop = gmsh.model.geo.addCurveLoop(curves, reorient=True)
    return gmsh.model.geo.addPlaneSurface([loop])


def quadratic_mesh(boundaries: dict[str, list[int]]) -> MeshTri2:
    """Mesh all surfaces and return curved six-node triangles with named boundary facets.

    ``boundaries`` maps a name to curve tags. The names are carried by curve and not by place,
    because the two sides of a zero-thickness wall lie at the same place.
    """
    gmsh.model.geo.synchronize()
    gmsh.model.mesh.generate(2)
    gmsh.model.mesh.setOrder(2)
    tags, coords, _ = gmsh.model.mesh.getNodes()
    place = dict(zip(tags, coords.reshape(-1, 3)[:, :2], strict=True))
    _, nodes = gmsh.model.mesh.getElementsByType(9)  # six-node triangles
    nodes = nodes.reshape(-1, 6)
    corners, flat = np.unique(nodes[:, :3], return_inverse=True)
    points = np.array([place[tag] for tag in corners]).T
    flat_mesh = MeshTri(points, flat.reshape(-1, 3).T)
    curved = MeshTri2.from_mesh(flat_mesh)

    facets = np.sort(flat_mesh.facets, axis=0)
    index_of = {pair: i for i, pair in enumerate(zip(*facets, strict=True))}
    number = {tag: i for i, tag in enumerate(corners)}
    locations = curved.doflocs.copy()
    for triangle in nodes:
        for one, two, middle in ((0, 1, 3), (1, 2, 4), (2, 0, 5)):
            pair = sorted((number[triangle[one]], number[triangle[two]]))
            locations[:, len(corners) + index_of[tuple(pair)]] = place[triangle[middle]]

    named = {}
    for name, curves in boundaries.items():
        found = []
        for curve in curves:
            _, _, lines = gmsh.model.mesh.getElements(1, curve)
            ends = np.concatenate(lines).reshape(-1, 3)[:, :2]
            found += [index_of[tuple(sorted((number[a], number[b])))] for a, b in ends]
        named[name] = np.array(found)
    return MeshTri2(locations, curved.t).with_boundaries(named)


@BilinearForm
def stiffness_form(p, q, w):
    """Return grad p . grad q, weighted by the radius."""
    return dot(grad(p), grad(q)) * w.x[1]


@BilinearForm
def mass_form(p, q, w):
    """Return p q, weighted by the radius (also used on boundary lines)."""
    return p * q * w.x[1]


def make_basis(mesh: MeshTri2) -> Basis:
    """Return the quadratic basis on a curved mesh."""
    return Basis(mesh, ElementTriP2(), intorder=QUADRATURE_ORDER)


def equivalent_length(ratio: np.ndarray, k: np.ndarray) -> np.ndarray:
    """Return the phase of a ratio of two reflections as a length in m: -phase / (2 k)."""
    return -np.angle(ratio) / (2.0 * k)


def write_json(path: Path, content: dict) -> None:
    """Write ``content`` with one list or number a line, so that a diff stays readable."""

    def text(value: object, indent: str) -> str:
        if not isinstance(value, dict):
            return json.dumps(value)
        deeper = indent + "  "
        lines = [f"{deeper}{json.dumps(k)}: {text(v, deeper)}" for k, v in value.items()]
        return "{\n" + ",\n".join(lines) + f"\n{indent}}}"

    path.write_text(text(content, "") + "\n", encoding="utf-8")
