"""Pieces for a wave: plane fronts along the axis, or caps that stand on the wall."""

from dataclasses import dataclass
from itertools import pairwise
from weakref import finalize

import numpy as np

from lipmodel.bore.geometry import WIDENS, Bore

CAP_STEPS = 250  # steps along a steep stretch: 1e-3 in reflectance against 2400
SHORT_CAP_STEPS = 60  # the same inside the bore, where it is a cup or a short cone
STEEP = 0.1  # dr/dx: a stretch that stays below has plane fronts
CAP_FRACTION = 0.85  # of the half angle's tangent; see `_caps`
LEAST_GAP = 0.05  # of the gap at the wall, between two fronts on the axis (sudden bends)
_KNOWN: dict[int, dict] = {}  # pieces of each bore that is alive


@dataclass(frozen=True, slots=True)
class Pieces:
    """The bore as short pieces from lip end to open end, arrays of shape (n,), metres.

    x, axial: where a piece starts and its length along the axis
    length: what the wave travels; area: m2, the mean area that it meets
    r_in, r_out: radii at both ends
    cap: True where fronts are caps and the piece is a cylinder of `length` and `area`, False
        where it is a cone with plane fronts
    """

    x: np.ndarray
    axial: np.ndarray
    length: np.ndarray
    area: np.ndarray
    r_in: np.ndarray
    r_out: np.ndarray
    cap: np.ndarray


def end_angle(bore) -> float:
    """Half angle of the last wave front at the open end, radians; 0 for a plane one."""
    if bore.flare_start >= bore.length:
        return 0.0
    last = np.flatnonzero(np.diff(bore.x) > 0)[-1]
    slope = np.diff(bore.radius)[last] / np.diff(bore.x)[last]
    return float(_cap_angle(slope))


def pieces(bore: Bore, wavefront: str = "wall", longest: float | None = None) -> Pieces:
    """Pieces for a wave; no sloping one longer than `longest` metres or of a radius ratio
    over 1.1 where `longest` is given.  Worked out once.

    "plane": cones along the axis, fronts plane.  "wall": the same, but where the bore slopes
    steeply, as in the flare and in the mouthpiece cup, fronts are spherical caps that stand
    on the wall (`_caps`).
    """
    if wavefront not in ("wall", "plane"):
        raise ValueError(f'wavefront = {wavefront!r}: expected "wall" or "plane"')
    how = (wavefront, longest)
    known = _known(bore)
    if how not in known:
        known[how] = _cut(bore, wavefront, longest)
    return known[how]


def _known(bore) -> dict:
    """What was worked out for this very bore; it goes when the bore goes."""
    if id(bore) not in _KNOWN:  # by identity: arrays have no hash
        _KNOWN[id(bore)] = {}
        finalize(bore, _KNOWN.pop, id(bore))
    return _KNOWN[id(bore)]


def _cut(bore, wavefront, longest) -> Pieces:
    keep = np.flatnonzero(np.diff(bore.x) > 0)
    x0, x1 = bore.x[keep], bore.x[keep + 1]
    r0, r1 = bore.radius[keep], bore.radius[keep + 1]
    runs = _steep_runs(x0, x1, r0, r1) if wavefront == "wall" else []
    parts = np.ones(len(x0), int)
    if longest is not None:
        by_ratio = np.abs(np.log(r1 / r0)) / np.log(1.1)
        needed = np.ceil(np.maximum((x1 - x0) / longest, by_ratio))
        parts = np.where(np.abs(r1 - r0) > WIDENS, np.maximum(needed, 1), 1).astype(int)
    run = np.full(len(x0), -1)
    for number, inside in enumerate(runs):
        run[inside] = number
        arc = np.hypot(x1 - x0, r1 - r0)[inside]
        steps = CAP_STEPS if inside.stop == len(x0) else SHORT_CAP_STEPS
        parts[inside] = np.maximum(parts[inside], np.ceil(arc / (arc.sum() / steps)))
    at = np.repeat(np.arange(len(parts)), parts)
    number = np.arange(parts.sum()) - np.repeat(np.cumsum(parts) - parts, parts)
    lower, upper = number / parts[at], (number + 1) / parts[at]
    x, axial = x0[at] + (x1 - x0)[at] * lower, (x1 - x0)[at] * (upper - lower)
    r_in, r_out = r0[at] + (r1 - r0)[at] * lower, r0[at] + (r1 - r0)[at] * upper
    plane = Pieces(
        x, axial, axial, np.pi / 3 * (r_in**2 + r_in * r_out + r_out**2),
        r_in, r_out, np.zeros(len(x), bool),
    )  # fmt: skip
    for number in range(len(runs)):
        plane, at = _with_caps(plane, at, run, number, bore.length)
    return plane


def _steep_runs(x0, x1, r0, r1):
    """Stretches that only widen or only narrow, without a step, steep somewhere; each a
    slice of the segments.  The flare to the open end counts however gentle it is."""
    slope = (r1 - r0) / (x1 - x0)
    way = np.where(np.abs(r1 - r0) <= WIDENS, 0.0, np.sign(slope))
    broken = (way[1:] != way[:-1]) | (r0[1:] != r1[:-1])
    edges = [0, *(np.flatnonzero(broken) + 1), len(way)]
    found = []
    for a, b in pairwise(edges):
        flare = way[a] > 0 and b == len(way)
        if way[a] and (flare or np.abs(slope[a:b]).max() > STEEP):
            found.append(slice(a, b))
    return found


def _cap_angle(slope):
    """Half angle of the cap on a wall of `slope` = dr/dx: tan(a/2) = CAP_FRACTION tan(theta/2)."""
    return 2 * np.arctan(CAP_FRACTION * np.tan(np.arctan(slope) / 2))


def _reversed(pieces: Pieces) -> Pieces:
    p = pieces
    return Pieces(
        p.x[::-1], p.axial[::-1], p.length[::-1], p.area[::-1], p.r_out[::-1], p.r_in[::-1],
        p.cap[::-1],
    )  # fmt: skip


def _with_caps(pieces: Pieces, at, run, number, length):
    """`pieces` with those of one run between caps; `at` is each piece's segment."""
    inside = np.flatnonzero(run[at] == number)
    a, b = inside[0], inside[-1] + 1
    part = Pieces(*(getattr(pieces, f)[a:b] for f in Pieces.__dataclass_fields__))
    narrows = part.r_out[-1] < part.r_in[0]
    open_end = not narrows and pieces.x[b - 1] + pieces.axial[b - 1] >= length - 1e-12
    new = _caps(_reversed(part), False) if narrows else _caps(part, open_end)
    new = _reversed(new) if narrows else new
    joined = Pieces(
        *(
            np.concatenate([getattr(pieces, f)[:a], getattr(new, f), getattr(pieces, f)[b:]])
            for f in Pieces.__dataclass_fields__
        )
    )
    added = len(new.x) - (b - a)
    if added:
        at = np.insert(at, b if narrows else a, at[b - 1] if narrows else at[a])
    return joined, at


def _caps(pieces: Pieces, open_end: bool) -> Pieces:
    """A widening stretch between spherical caps instead of plane fronts.

    A cap stands on the wall's circle of radius r with half angle a.  From one cap to the next
    the gap runs, linearly in the cosine of the polar angle, from g0 = dx + tan(a/2) dr +
    r da/(1 + cos a) on the axis to g1 = cos(a) dx + sin(a) dr at the wall.  With cap area
    S = 2 pi r^2/(1 + cos a) and one pressure on each cap, Rayleigh's principle gives the
    compliance S (g0 + g1)/2 / (rho c^2) and the inertance rho (g0 - g1)/(S ln(g0/g1)): a
    cylinder of length sqrt(C M) and area sqrt(C/M) (rho = c = 1).  The first cap bulges into
    the stretch; a plug of half its height stands before it.  At the far end caps flatten so as
    not to bulge out, unless that is the open end.

    Ours.  CAP_FRACTION = 1 has no fitted number and stays within 0.04 and 1.6 mm of axisymmetric
    finite elements on ten horns from 100 to 1500 Hz; 0.85 was chosen on those ten (0.02, 0.9 mm)
    and held on five others (0.012, 1.5 mm) and on two mouthpiece cups (2 cents; plane fronts 9).
    The textbook horn, or T. Helie's along the wall (J. Acoust. Soc. Am. 114, 2633-2647, 2003)
    with disc areas, miss the horns by up to 0.17 and 23 mm.
    """
    dx, dr = pieces.axial, pieces.r_out - pieces.r_in
    r = 0.5 * (pieces.r_in + pieces.r_out)
    slope = dr / dx
    # at the edges between pieces the slope is the mean of both neighbours
    edge = np.concatenate([slope[:1], 0.5 * (slope[1:] + slope[:-1]), slope[-1:]])
    edge_angle = _cap_angle(edge)
    if not open_end:
        left = np.concatenate([[dx.sum()], dx.sum() - np.cumsum(dx)]).clip(0)
        edge_radius = np.concatenate([pieces.r_in[:1], pieces.r_out])
        edge_angle = np.minimum(edge_angle, 2 * np.arctan(left / edge_radius))
    angle, turn = 0.5 * (edge_angle[1:] + edge_angle[:-1]), np.diff(edge_angle)
    g1 = np.cos(angle) * dx + np.sin(angle) * dr
    g0 = dx + np.tan(angle / 2) * dr + r * turn / (1 + np.cos(angle))
    ratio = np.maximum(g0 / g1, LEAST_GAP)
    excess = ratio - 1
    even = np.abs(excess) < 1e-6
    inverse_gap = np.where(even, 1.0, np.log(ratio) / np.where(even, 1.0, excess)) / g1
    cap = 2 * np.pi * r**2 / (1 + np.cos(angle))
    compliance, inertance = cap * g1 * (ratio + 1) / 2, 1 / (cap * inverse_gap)
    r0 = pieces.r_in[0]
    plug = 0.5 * r0 * np.tan(edge_angle[0] / 2)
    count = 1 if plug > WIDENS else 0

    def after_plug(value, values):
        return np.concatenate([[value] * count, values])

    return Pieces(
        after_plug(pieces.x[0], pieces.x),
        after_plug(0.0, pieces.axial),
        after_plug(plug, np.sqrt(compliance * inertance)),
        after_plug(np.pi * r0**2, np.sqrt(compliance / inertance)),
        after_plug(r0, pieces.r_in),
        after_plug(r0, pieces.r_out),
        np.ones(len(r) + count, bool),
    )
