"""From bore, air and rate to the plain arrays that the time loop takes.

The bore becomes a ladder of cylindrical cells, each one sample long in each direction, that
scatter at every change of area (Kelly and Lochbaum's ladder; Smith, Physical Audio Signal
Processing).  Long cylinders are delay lines of any length ("lines"), which also tune the length
of the bore to a fraction of a sample by a first-order Thiran allpass.  Wall loss is in
first-order shelves, one in each cell of two stretches, which stand for the cells around them;
they are crossed once on the way there and back: towards the open end in the nearer half of the
losses, towards the lips in the farther half, which leaves both the round trip to every place
and the way out right.  The open end is a filter of fourth order.

Cell areas and losses start from the geometry (mean area: volume kept) and are then fitted, a
little, to the frequency-domain bore (`fit.py`).  Areas stay positive, shelves and end filter
never give back more than they get: the ladder is passive whatever the fit does.
"""

from dataclasses import dataclass, field, fields, replace
from itertools import pairwise

import numpy as np

from lipmodel.acoustics.losses import propagation
from lipmodel.acoustics.radiation import causal_load
from lipmodel.bore import wavefronts
from lipmodel.errors import SceneError
from lipmodel.waveguide.cells import SHORT_LINE, Travel, edges_of, station_of, throat_of
from lipmodel.waveguide.filters import (
    LOSS_BAND,
    end_filter,
    pole_coefficients,
    shelf_weights,
    thiran,
)

FEWEST_CELLS = 4
LANES = 8  # cells that the compiler handles in one turn of its loop
# shares of the junctions before and behind the turn that have shelves, and how far from the turn
# to the open end the second stretch begins: as near to the exact bore, and inside it too, as with
# a shelf in each cell, and a tenth faster
SHELVED_BEFORE, SHELVED_BEHIND, SHELVES_FROM = 0.6, 0.5, 0.1
FEW = 64  # cells: up to here each has its shelf, since a few cost nothing


@dataclass(frozen=True)
class Ladder:
    """The bore at one rate, from lip end to open end; n cells, m of them lines.

    admittance: S/(rho c) of every cell, m3/(Pa s), shape (n,)
    delay: samples one way through every cell, shape (n,): 1 except in lines
    shelf_weight, shelf_coefficient: loss shelf of every cell, shape (n,); 0 where it has none
    turn: cells up to this one have their shelf on the way out, the others on the way back
    line_cell: index of every line, shape (m,);  line_x: where it begins and ends, m, (m, 2)
    line_excess: a line's excess propagation a sample of travel at LOSS_BAND, complex, (m, f)
    end_numerator, end_denominator: reflection filter of the open end, by rising power of z^-1
    first_admittance: S/(rho c) of the bore's first radius, to which reflectance refers
    station, station_admittance: cell that begins where the mouthpiece ends, and the bore's
        S/(rho c) there (the fit may move the cell's)
    throat: junction of the mouthpiece's throat, -1 without; throat_area: m2; throat_share: of
        the cup's area
    """

    rate: float
    admittance: np.ndarray
    delay: np.ndarray
    shelf_weight: np.ndarray
    shelf_coefficient: np.ndarray
    turn: int
    line_cell: np.ndarray
    line_x: np.ndarray
    line_excess: np.ndarray
    end_numerator: np.ndarray
    end_denominator: np.ndarray
    first_admittance: float
    end_admittance: float  #: of the load's reference area; 0 where the end is ideal
    end_load: tuple[np.ndarray, np.ndarray]  #: z(s) of the load, s in units of c/a
    end_time: float  #: a/c of the open end, s
    end: str
    station: int = 0
    station_admittance: float = 0.0
    throat: int = -1
    throat_area: float = 0.0
    throat_share: float = 0.0
    known_taps: dict = field(default_factory=dict, compare=False, repr=False)

    @property
    def scattering(self) -> np.ndarray:
        """Reflection coefficient at each junction, seen from the lip side, shape (n - 1,)."""
        y = self.admittance
        return (y[:-1] - y[1:]) / (y[:-1] + y[1:])

    @property
    def longest_delay(self) -> float:
        """Samples that a line's buffer must hold: with all valves down and every slide out."""
        return 2.0 * float(self.delay[self.line_cell].max(initial=2.0)) + 0.01 * self.rate

    @property
    def pole_coefficients(self) -> np.ndarray:
        return pole_coefficients(self.rate)


def _excess(travel, edges, rate):
    """Excess propagation of every cell over a lossless one at LOSS_BAND, complex, (n, f).

    With its phase: attenuation alone would leave every resonance 2 cents sharp.
    """
    omega = 2 * np.pi * LOSS_BAND
    pieces = travel.pieces
    piece_radius = 0.5 * (pieces.r_in + pieces.r_out)
    excess = np.zeros((len(edges) - 1, len(omega)), complex)
    for i, (start, stop) in enumerate(pairwise(edges)):
        # a cell's loss is the mean over its length: five points, since loss goes as 1/radius
        at = start + (stop - start) * np.linspace(0.1, 0.9, 5)
        piece = np.clip(np.searchsorted(travel.edge, at, side="right") - 1, 0, len(pieces.x) - 1)
        air = travel.air[piece[:, None]]
        gamma, _ = propagation(piece_radius[piece][:, None], omega, air)
        excess[i] = np.mean(gamma * air.sound_speed - 1j * omega, axis=0) * (stop - start) / rate
    return excess


def padded_size(junctions: int) -> int:
    """Junctions rounded up to whole turns of the compiled loop."""
    return -(-int(junctions) // LANES) * LANES


def shelf_cells(n: int, turn: int) -> np.ndarray:
    """The cell whose loss is taken at each junction of `n` cells, shape (n - 1,)."""
    return np.concatenate([np.arange(1, turn + 1), np.arange(turn, n - 1)])


def _seats(plain, turn, throat, dense):
    """Cells with a shelf, of cells that are `plain`: all, or, not `dense`, those whose junctions
    lie in one stretch before the turn and one behind it.  The throat's junction has a loss of
    its own and no shelf; the first and the last cell have none, since shelves sit at junctions.
    """
    n = len(plain)
    junction, behind = np.arange(n - 1), n - 1 - turn
    begin = turn + padded_size(SHELVES_FROM * behind)
    shelved = np.full(n - 1, dense)
    shelved |= junction < min(padded_size(SHELVED_BEFORE * turn), turn)
    shelved |= (junction >= begin) & (junction < begin + padded_size(SHELVED_BEHIND * behind))
    shelved_cells = np.zeros(n, bool)
    shelved_cells[shelf_cells(n, turn)[shelved]] = True
    if throat >= 0:  # two junctions stand for the cell at the turn
        shelved_cells[shelf_cells(n, turn)[throat]] = False
    shelved_cells[[0, -1]] = False
    return np.flatnonzero(shelved_cells & plain)


def _share_poles(weights, seats):
    """One pole a seat, taking turns; a cell's loss at a pole goes to the nearest seat of it."""
    chosen = np.arange(len(seats)) % weights.shape[1]
    single = np.zeros(len(seats))
    for pole in range(weights.shape[1]):
        mine = np.flatnonzero(chosen == pole)
        if not len(mine):
            mine = np.arange(len(seats))
        nearest = mine[np.argmin(np.abs(seats[mine][:, None] - np.arange(len(weights))), axis=0)]
        np.add.at(single, nearest, weights[:, pole])
    return chosen, single


def start_ladder(bore, air, rate, dense=False) -> Ladder:
    """The ladder straight from the geometry, before any fit; `dense`: a shelf in every cell."""
    travel = Travel(bore, air, rate)
    if travel.total < FEWEST_CELLS + SHORT_LINE:
        need = rate * (FEWEST_CELLS + SHORT_LINE) / travel.total
        raise SceneError(
            f"the bore is {bore.length * 1e3:.0f} mm long, too short for rate_hz = {rate:g}: "
            f"expected at least {np.ceil(need / 1000) * 1000:.0f} Hz"
        )
    edges, lines = edges_of(bore, travel)
    admittance = travel.mean_admittance(edges)
    excess = _excess(travel, edges, rate)
    plain = np.ones(len(admittance), bool)
    plain[lines] = False
    weights = np.array([shelf_weights(2 * e, rate) for e in excess]) * plain[:, None]
    lost = np.cumsum(np.sum(weights, axis=1))
    half = np.searchsorted(lost, lost[-1] / 2)
    turn = min(int(np.round(half / LANES)) * LANES, (len(admittance) - 2) // LANES * LANES)
    places = travel.place_at(edges)
    throat = throat_of(bore, places)
    station = station_of(bore, places, throat)
    seats = _seats(plain, turn, throat.junction, dense or len(plain) <= FEW)
    chosen, single = _share_poles(weights, seats)
    shelf_weight, shelf_coefficient = np.zeros((2, len(admittance)))
    shelf_weight[seats] = 1 - np.exp(-single)
    shelf_coefficient[seats] = pole_coefficients(rate)[chosen]
    speed, density = air.at_open_end.sound_speed, air.at_open_end.density
    radius = bore.radius[-1]
    end_area = np.pi * radius**2
    load = (
        None
        if bore.end in ("closed", "node")
        else causal_load(bore.end, wavefronts.end_angle(bore))
    )
    ladder = Ladder(
        rate=float(rate),
        admittance=admittance,
        delay=np.diff(edges),
        shelf_weight=shelf_weight,
        shelf_coefficient=shelf_coefficient,
        turn=turn,
        line_cell=np.array(lines),
        line_x=np.array([travel.place_at(edges[[i, i + 1]]) for i in lines]),
        line_excess=excess[lines] / np.diff(edges)[lines][:, None],
        end_numerator=np.array([-1.0]),
        end_denominator=np.array([1.0]),
        first_admittance=_admittance_at(bore, air, 0.0),
        end_admittance=end_area / (density * speed),
        end_load=load,
        end_time=radius / speed,
        end=bore.end,
        station=station,
        station_admittance=_admittance_at(bore, air, float(places[station])),
        throat=throat.junction,
        throat_area=throat.area,
        throat_share=throat.share,
    )
    ladder.delay[plain] = 1.0
    return with_end_filter(ladder)


def _admittance_at(bore, air, x):
    """S/(rho c) of the bore at `x` m, m3/(Pa s)."""
    here = air.at_share(x / bore.length)
    area = np.pi * float(bore.radius_at(x)) ** 2
    return area / (here.density * here.sound_speed)


def with_end_filter(ladder: Ladder) -> Ladder:
    """The ladder with its end filter made for the last cell's present area."""
    ratio = ladder.admittance[-1] / ladder.end_admittance
    b, a = end_filter(ladder.end_load, ladder.end_time, ratio, ladder.rate, ladder.end)
    return replace(ladder, end_numerator=b, end_denominator=a)


def line_weights(ladder: Ladder, line: int, delay: float) -> np.ndarray:
    """Shelf weights of a line whose way through takes `delay` samples, shape (5,)."""
    loss = 1 - np.exp(-ladder.line_excess[line] * delay)
    return shelf_weights(loss, ladder.rate)


def line_tap(ladder: Ladder, line: int, delay: float) -> np.ndarray:
    """Whole samples, allpass coefficient and five shelf weights of a line at some `delay`."""
    whole, allpass = thiran(delay)
    return np.array([whole, allpass, *line_weights(ladder, line, delay)])


def ladder_arrays(ladder: Ladder) -> dict:
    """The ladder as arrays only, to be kept in a file."""
    values = {f.name: getattr(ladder, f.name) for f in fields(Ladder)}
    values.pop("known_taps")
    lines = enumerate(ladder.delay[ladder.line_cell])
    values["taps"] = np.array([line_tap(ladder, m, d) for m, d in lines]).reshape(-1, 7)
    load = values.pop("end_load")
    if load is not None:
        values["load_above"], values["load_below"] = load
    return {name: np.asarray(value) for name, value in values.items()}


def ladder_from_arrays(arrays: dict) -> Ladder:
    """The ladder that `ladder_arrays` took apart."""
    values = {k: v.item() if v.ndim == 0 else v for k, v in arrays.items()}
    above, below = values.pop("load_above", None), values.pop("load_below", None)
    taps = values.pop("taps")
    known = {
        (m, float(values["delay"][cell])): taps[m] for m, cell in enumerate(values["line_cell"])
    }
    load = None if above is None else (above, below)
    return Ladder(**values, end_load=load, known_taps=known)
