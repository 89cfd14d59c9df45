"""Where the power of one steady note goes: breath, lips, jet, walls by place, and sound.

Whole periods inside a note's steady part are played once more with the books open.  blown =
jet + lips + wall + radiated + change of what the waves store + what is missing; every term but
the last is summed apart in the time loop, so that `residual` can fail.  The jet is what the
pressure difference gives the stream, less what a pressure without a flow of its own gives the
lips: that in their channel, or all that moves lips which swing.
"""

from dataclasses import dataclass

import numpy as np

from lipmodel.acoustics.power import power_per_flow
from lipmodel.build import Built, held_bore
from lipmodel.cells import cell_edges
from lipmodel.perform import Performance
from lipmodel.timeloop import advance, stored_energy
from lipmodel.waveguide import shared_out, shelf_cells

PLACES = ("mouthpiece", "leadpipe", "tubing", "bell")
BLOWN, INTO_BORE, WALL, RADIATED, JET, DAMPED, CHANNEL, THROAT = range(8)  # the time loop's books
FEWEST_PERIODS = 3
HIGHEST = 0.4  # of the rate: harmonics above are left out


@dataclass(frozen=True)
class Balance:
    """Mean powers in W over `seconds` of a steady note; `wall_at` by `PLACES`.  `throat` is lost
    behind the mouthpiece's throat: a part of `wall` and of the mouthpiece's.

    residual: share of the blown power that no book has; bore_residual: of the air column's own
    books.  share: of what entered the bore, radiated by the time loop; share_by_impedance: the
    same from the bore's impedances and the harmonics of the played flow (None if not asked for).
    """

    seconds: float
    blown: float
    jet: float
    lips: float
    into_bore: float
    wall: float
    throat: float
    wall_at: dict[str, float]
    radiated: float
    residual: float
    bore_residual: float
    share: float
    share_by_impedance: float | None

    def row(self) -> dict:
        """For a report, W and shares."""
        names = ("blown", "jet", "lips", "into_bore", "wall", "throat", "radiated")
        return {f"{name}_w": getattr(self, name) for name in names} | {
            "wall_at_w": self.wall_at,
            "residual": self.residual,
            "bore_residual": self.bore_residual,
            "radiated_share": self.share,
            "radiated_share_by_impedance": self.share_by_impedance,
        }


class Balances:
    """The balances of a performance's notes; the ladder's places are found once."""

    def __init__(self, performance: Performance):
        self.performance = performance
        self.built: Built = performance.built
        self.ladder = self.built.horn.ladder
        _, self.places = cell_edges(self.built.bore, self.built.air, self.built.rate)

    def of(self, part: slice, frequency, held=None) -> Balance | None:
        """The balance of the samples `part`, cut to whole periods of `frequency` Hz; None for
        less than three.  `held`: valves and slide position, to ask the impedances too."""
        performance, rate = self.performance, self.built.rate
        count = int((part.stop - part.start) * frequency / rate)
        if count < FEWEST_PERIODS:
            return None
        state = performance.state_at((part.start + 0.5) / rate)
        first = round(state.time * rate)
        stop = first + round(count * rate / frequency)
        if stop > len(performance.mouth):
            return None
        lines = performance.lines_at(first / rate)
        before, stored = state.books.copy(), stored_energy(self.built.horn, state, lines)
        block = performance.controls.block(first, stop, None, lines, None, 0)
        played = advance(self.built.horn, state, block, book=True)
        seconds = (stop - first) / rate
        books = (state.books - before) / seconds
        stored = (stored_energy(self.built.horn, state, lines) - stored) / seconds
        blown = books[BLOWN]
        if not blown > 0:
            return None
        throat = books[THROAT]
        wall = books[WALL] + throat
        missing = books[INTO_BORE] - wall - books[RADIATED] - stored
        jet = books[JET] - books[CHANNEL]
        spent = jet + books[DAMPED] + wall + books[RADIATED] + stored
        return Balance(
            seconds=seconds,
            blown=float(blown),
            jet=float(jet),
            lips=float(books[DAMPED]),
            into_bore=float(books[INTO_BORE]),
            wall=float(wall),
            throat=float(throat),
            wall_at=self._wall_at(state, lines, seconds, throat),
            radiated=float(books[RADIATED]),
            residual=float((blown - spent) / blown),
            bore_residual=float(missing / blown),
            share=float(books[RADIATED] / books[INTO_BORE]),
            share_by_impedance=self._by_impedance(held, played.flow, frequency),
        )

    def _by_impedance(self, held, flow, frequency):
        if held is None:
            return None
        bore = held_bore(self.built, *held)
        return share_by_impedance(bore, self.built.air, flow, self.built.rate, frequency)

    def _wall_at(self, state, lines, seconds, throat) -> dict[str, float]:
        """Power that the walls take in W by place: each cell's, shared out by length."""
        ladder, joints = self.ladder, len(self.ladder.admittance) - 1
        lost = np.zeros(joints + 1)
        np.add.at(lost, shelf_cells(joints + 1, ladder.turn), state.drain[:joints])
        watts = np.append(0.0, np.cumsum(lost * ladder.admittance / ladder.rate / seconds))
        watts = np.diff(shared_out(ladder, watts))
        crossing = state.drain[len(state.drain) - len(ladder.line_cell) :] / seconds
        watts[ladder.line_cell] += crossing * ladder.admittance[ladder.line_cell] / ladder.rate
        added = np.zeros(joints + 1)
        own = ladder.delay[ladder.line_cell]
        now = own if lines is None else np.array(lines, float)
        if state.slide is not None:
            now = now.copy()
            now[state.slide.line] += state.added
        added[ladder.line_cell] = np.maximum(now / own - 1, 0)  # tube put in, of the line's own
        kept = watts / (1 + added)
        found = dict.fromkeys(PLACES, 0.0)
        found["mouthpiece"] += float(throat)
        found["tubing"] += float(np.sum(watts - kept))
        for name, start, end in place_spans(self.built.bore):
            inside = np.clip(np.minimum(self.places[1:], end) - np.maximum(self.places[:-1], start),
                             0, None)  # fmt: skip
            found[name] += float(np.sum(kept * inside / np.diff(self.places)))
        return found


def place_spans(bore):
    """(place, start, end) in m of every section; what is no mouthpiece, leadpipe or bell is
    tubing."""
    for section in bore.sections:
        name = section.name if section.name in PLACES else "tubing"
        yield name, section.start, section.end


def share_by_impedance(bore, air, flow, rate, frequency) -> float:
    """Share of what enters the bore that is radiated, for a flow (m3/s, whole periods of
    `frequency` Hz at `rate`): sum over harmonics of |U|^2 Re(Z_load)|u_end/u_in|^2 over that of
    |U|^2 Re(Z_in)."""
    periods = round(len(flow) * frequency / rate)
    window = np.hanning(len(flow))
    size = np.abs(np.fft.rfft(flow * window))
    n = np.arange(1, int(HIGHEST * rate / frequency) + 1)
    power = size[n * periods] ** 2
    into, out = power_per_flow(bore, air, n * frequency)
    total = np.sum(power * into)
    return float(np.sum(power * out) / total) if total > 0 else float("nan")
