"""The ladder without a player: a source puts flow in at any place of the tube.

The lip end is closed by a rigid wall (reflection +1 of the first cell) or open: then it works
against the load of an unflanged pipe of the bore's first radius, as the open end does.  In a
delay line the ladder is broken where the source is; among cells the source goes to the nearest
junction, at most half a cell (3.6 mm at 48 kHz) away.
"""

from dataclasses import dataclass, replace

import numpy as np

from lipmodel.acoustics.radiation import causal_load
from lipmodel.errors import SimulationError, check_stop
from lipmodel.waveguide.arrays import (
    END_ORDER,
    at_junctions,
    end_coefficients,
    line_taps,
    shelf_ranges,
)
from lipmodel.waveguide.cells import SHORT_LINE, cell_edges
from lipmodel.waveguide.filters import end_filter
from lipmodel.waveguide.ladder import Ladder
from lipmodel.waveguide.state import still, stored_energy
from lipmodel.waveguide.time_loop import LARGEST_PRESSURE, small_ladder

LIP_ENDS = ("closed", "open")
BOOKS = ("given", "wall", "radiated", "lip_radiated")


@dataclass(frozen=True)
class Tube:
    """A ladder with a place for a source: `junction` behind that cell, -1 at a closed lip end;
    `place` in m where that is; the lip end's reflection filter; density and speed of sound
    there in kg/m3 and m/s."""

    ladder: Ladder
    lip_end: str
    junction: int
    place: float
    lip_filter: tuple[np.ndarray, np.ndarray]
    density: float
    sound_speed: float


@dataclass(frozen=True)
class Heat:
    """Flow that answers to the motion of the air: top x tanh(gain x u(t - lag)), `top` in m3/s,
    `gain` in s/m, `lag` in s."""

    top: float
    gain: float
    lag: float


@dataclass(frozen=True)
class SourceOutput:
    """What comes of it, arrays of shape (n,), SI; books in J by the names of `BOOKS`."""

    flow: np.ndarray  #: of the source, m3/s
    lip_pressure: np.ndarray
    source_pressure: np.ndarray
    velocity: np.ndarray  #: m/s, on the lip side of a source inside the tube
    out_wave: np.ndarray
    back_wave: np.ndarray
    books: dict
    stored: float  #: J, in the waves at the end


def tube(ladder: Ladder, bore, air, place: float, lip_end="closed") -> Tube:
    """The ladder of `bore` in `air` made ready for a source at `place` m from the lip end.

    ValueError for a place outside the bore and for an unknown lip end.
    """
    if not 0 <= place <= bore.length:
        raise ValueError(f"tube: a source must lie from 0 to {bore.length:g} m, not {place:g}")
    if lip_end not in LIP_ENDS:
        raise ValueError(f"tube: lip_end = {lip_end!r}: expected one of {', '.join(LIP_ENDS)}")
    edges, places = cell_edges(bore, air, ladder.rate)
    ladder, junction, place = _with_junction(ladder, edges, places, place, lip_end == "closed")
    here = air.at_share(place / bore.length)
    return Tube(ladder, lip_end, junction, place, _lip_filter(ladder, bore, air, lip_end),
                here.density, here.sound_speed)  # fmt: skip


def _lip_filter(ladder, bore, air, lip_end):
    """(b, a) by rising power of z^-1, padded to the loop's order."""
    b, a = np.zeros((2, END_ORDER + 1))
    b[0] = a[0] = 1.0
    if lip_end == "open":
        time = bore.radius[0] / air.at_lips.sound_speed
        ratio = ladder.admittance[0] / ladder.first_admittance
        b, a = end_filter(causal_load(), time, ratio, ladder.rate, "unflanged")
    return b, a


def _with_junction(ladder, edges, places, place, closed):
    """The ladder with a junction at `place`, its number and where it is.

    A line is broken in two; each part keeps the least length that a line may have.
    """
    sample = float(np.interp(place, places, edges))
    for line, cell in enumerate(ladder.line_cell):
        before, after = sample - edges[cell], edges[cell + 1] - sample
        if min(before, after) >= SHORT_LINE:
            return _broken(ladder, line, before, after, place), int(cell), place
    # junction i lies at edge i + 1; a closed lip end takes flow, an open one does not
    first = 0 if closed else 1
    edge = first + int(np.argmin(np.abs(edges[first:-1] - sample)))
    return ladder, edge - 1, float(places[edge])


def _broken(ladder, line, before, after, place):
    """The ladder whose line is two lines of `before` and `after` samples that meet at `place`."""
    cell = int(ladder.line_cell[line])

    def twice(values):
        return np.insert(values, cell, values[cell])

    lines, (start, end) = ladder.line_cell, ladder.line_x[line]
    delay = twice(ladder.delay)
    delay[cell : cell + 2] = before, after
    line_x = np.insert(ladder.line_x, line, ladder.line_x[line], axis=0)
    line_x[line], line_x[line + 1] = (start, place), (place, end)
    return replace(
        ladder,
        admittance=twice(ladder.admittance),
        delay=delay,
        shelf_weight=twice(ladder.shelf_weight),
        shelf_coefficient=twice(ladder.shelf_coefficient),
        line_cell=np.insert(np.where(lines > cell, lines + 1, lines), line + 1, cell + 1),
        line_x=line_x,
        line_excess=np.insert(ladder.line_excess, line, ladder.line_excess[line], axis=0),
        known_taps={},
    )


def drive(tube: Tube, given, heat: Heat | None = None) -> SourceOutput:
    """From rest through `given`, the source's own flow in m3/s, shape (n,), with what `heat`
    adds.  Raises SimulationError when the pressure leaves the model's range."""
    from lipmodel.waveguide.kernels import source_loop as kernel

    check_stop()
    ladder, given = tube.ladder, np.ascontiguousarray(given, float)
    if not np.all(np.isfinite(given)):
        raise ValueError("drive: the source's flow must be finite")
    state = still(ladder)
    scattering, weight, coefficient, admittance = at_junctions(ladder)
    taps = line_taps(ladder, ladder.delay[ladder.line_cell])
    books, traces = np.zeros(len(BOOKS)), np.zeros((6, len(given)))
    heat = heat or Heat(0.0, 0.0, 0.0)
    status, done = kernel.drive(
        1 / ladder.rate, LARGEST_PRESSURE,
        ladder.admittance, scattering, weight, coefficient, shelf_ranges(weight, ladder.turn),
        *end_coefficients(ladder), ladder.line_cell, taps, ladder.pole_coefficients,
        *tube.lip_filter, np.zeros(END_ORDER),
        tube.junction, given, max(1, round(heat.lag * ladder.rate)), heat.gain, heat.top,
        tube.density * tube.sound_speed,
        state.right, state.left, state.memory, state.end_memory, state.buffers, state.place,
        state.line_memory, state.line_old, state.drain, books, *traces,
    )  # fmt: skip
    if status == kernel.DIVERGED:
        raise SimulationError(
            f"the pressure left the model's range ({LARGEST_PRESSURE / 1e3:g} kPa) after "
            f"{done / ladder.rate:.4f} s; give the source less strength"
        )
    lost = state.drain[: len(admittance)], state.drain[len(admittance) :]
    lines = ladder.admittance[ladder.line_cell]
    books[kernel.WALL] = (admittance @ lost[0] + lines @ lost[1]) / ladder.rate
    named = dict(zip(BOOKS, map(float, books), strict=True))
    return SourceOutput(*traces, named, stored_energy(ladder, state))


def warm_up():
    """Run the loop for a moment on a tube of five cells, so that it is compiled or loaded."""
    filters = np.eye(1, END_ORDER + 1)[0]
    drive(Tube(small_ladder(), "closed", -1, 0.0, (filters, filters), 1.2, 340.0), np.zeros(4))
