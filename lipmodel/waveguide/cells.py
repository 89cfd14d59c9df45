"""Where the cells of a ladder lie in the bore, and where its mouthpiece ends.

Cells are a sample of travel long; long cylinders are one line each (`waveguide/ladder.py`).
"""

from dataclasses import dataclass

import numpy as np

from lipmodel.bore import wavefronts

LINE_CELLS = 12  # a cylinder this long in samples becomes a line
MARGIN_CELLS = 3  # cells kept at each end of such a cylinder
SHORT_LINE = 1.5  # samples, the least a line may have


@dataclass(frozen=True)
class Throat:
    """The narrowest place of a mouthpiece: the junction behind that cell (-1: no throat), its
    area in m2, and that area over the cup's."""

    junction: int
    area: float
    share: float


class Travel:
    """The bore against travel time from the lip end, in samples."""

    def __init__(self, bore, air, rate):
        pieces = wavefronts.pieces(bore, "wall", 4e-3)
        middle = (pieces.x + pieces.axial / 2) / bore.length
        self.air = air.arrays(middle)
        self.pieces = pieces
        time = pieces.length / self.air.sound_speed * rate
        self.edge = np.concatenate([[0.0], np.cumsum(time)])
        self.admittance = pieces.area / (self.air.density * self.air.sound_speed)
        self.filled = np.concatenate([[0.0], np.cumsum(self.admittance * time)])
        self.total = float(self.edge[-1])
        self.x_edge = np.concatenate([pieces.x, [bore.length]])

    def mean_admittance(self, edges):
        """Mean of S/(rho c) between travel times `edges`, shape (n,): volume is kept."""
        return np.diff(np.interp(edges, self.edge, self.filled)) / np.diff(edges)

    def time_at(self, x):
        return float(np.interp(x, self.x_edge, self.edge))

    def place_at(self, time):
        return np.interp(time, self.edge, self.x_edge)


def places_at(bore, air, rate, travel):
    """Places in m that a wave from the lip end reaches after `travel` samples, shape of it."""
    return Travel(bore, air, rate).place_at(travel)


def _cylinders(bore):
    """(start, end) in metres of every stretch of constant radius."""
    runs = []
    for i in range(len(bore.x) - 1):
        if bore.x[i + 1] == bore.x[i] or abs(bore.radius[i + 1] - bore.radius[i]) > 1e-9:
            continue
        if runs and runs[-1][1] == bore.x[i] and bore.radius[i] == bore.radius[i - 1]:
            runs[-1] = (runs[-1][0], bore.x[i + 1])
        else:
            runs.append((bore.x[i], bore.x[i + 1]))
    return [(float(a), float(b)) for a, b in runs]


def edges_of(bore, travel):
    """Travel times of the cell edges, and which cells are lines."""
    total = travel.total
    spans = []
    for start, end in _cylinders(bore):
        a, b = travel.time_at(start), travel.time_at(end)
        if b - a >= LINE_CELLS:
            spans.append((a, b))
    if not spans:
        return _with_short_line(travel, total)
    edges, lines, at = [0.0], [], 0.0
    for number, (a, b) in enumerate(spans):
        # whole cells up to a little inside the cylinder, then the line
        before = int(np.ceil(a - at + MARGIN_CELLS))
        edges.extend(at + np.arange(1, before + 1))
        last = number == len(spans) - 1
        cells_after = int(np.ceil(total - b + MARGIN_CELLS)) if last else MARGIN_CELLS
        at = (total - cells_after) if last else (b - MARGIN_CELLS)
        lines.append(len(edges) - 1)
        edges.append(at)
    edges.extend(at + np.arange(1, cells_after + 1))
    edges[-1] = total
    return np.array(edges), lines


def cell_edges(bore, air, rate):
    """Where the cells of a ladder meet: travel times from the lip end in samples and places in
    metres, both of shape (n + 1,), as `start_ladder` lays them out."""
    travel = Travel(bore, air, rate)
    edges, _ = edges_of(bore, travel)
    return np.array(edges), travel.place_at(edges)


def _with_short_line(travel, total):
    """Whole cells and one line of 1.5 to 2.5 samples, where the area changes least."""
    whole = int(np.floor(total - SHORT_LINE))
    rest = total - whole
    fine = np.linspace(0, total, 8 * int(np.ceil(total)) + 1)
    log_y = np.log(np.interp(fine, travel.edge[1:], travel.admittance))
    best, where = np.inf, 0
    for j in range(1, max(whole - 1, 2)):
        inside = log_y[(fine >= j) & (fine <= j + rest)]
        spread = np.ptp(inside)
        if spread < best - 1e-12:
            best, where = spread, j
    edges = np.concatenate([np.arange(where + 1), rest + np.arange(where, whole + 1)])
    edges[-1] = total
    return edges, [where]


def station_of(bore, places, throat: Throat) -> int:
    """Cell that begins where the mouthpiece ends, of cells that meet at `places` m; 0 without.

    Behind the throat's junction, however short the backbore: a wave noted there has lost already.
    """
    nearest = int(np.argmin(np.abs(places[:-1] - bore.mouthpiece_end)))
    return nearest if throat.junction < 0 else max(nearest, throat.junction + 2)


def throat_of(bore, places) -> Throat:
    """The throat of the bore's mouthpiece, at the junction nearest to where it ends.

    `places` in m are where the cells meet; a mouthpiece that is not narrowest inside has none.
    """
    inside = np.flatnonzero(bore.x <= bore.mouthpiece_end + 1e-12)
    radius = bore.radius[inside]
    if len(inside) < 3 or not radius.min() < min(radius[0], radius[-1]):
        return Throat(-1, 0.0, 0.0)
    narrowest = np.flatnonzero(radius <= radius.min() * (1 + 1e-9))[-1]
    # junction i lies at edge i + 1; one more cell has room behind it
    junction = int(np.argmin(np.abs(places[1:-2] - bore.x[narrowest])))
    cup = float(np.max(radius[: narrowest + 1]))
    return Throat(junction, np.pi * radius.min() ** 2, float((radius.min() / cup) ** 2))
