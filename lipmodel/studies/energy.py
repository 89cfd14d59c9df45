"""Where the power of one steady note goes: breath, lips, jet, walls by place, and sound.

Whole periods inside a note's steady part are played once more with the books open.  blown =
jet + lips + wall + radiated + change of what the waves store + what is missing; every term but
the last is summed apart in the time loop, so that `residual` can fail.  Where along the tube the
walls take theirs is told by the matrices: a shelf stands for the cells around it, and takes its
part of a wave whether the air moves there or not.  The jet is what the pressure difference gives
the stream, less what a pressure without a flow of its own gives the lips: that in their channel,
or all that moves lips which swing.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from lipmodel.acoustics.field import field, power_per_flow
from lipmodel.analysis.spectrum import complex_harmonics
from lipmodel.player.build import Built
from lipmodel.player.performance import Performance
from lipmodel.player.tubing import held_bore
from lipmodel.waveguide.state import named_books, stored_energy
from lipmodel.waveguide.time_loop import advance

PLACES = ("mouthpiece", "leadpipe", "tubing", "bell")
FEWEST_PERIODS = 3
HIGHEST = 0.4  # of the rate: harmonics above are left out
WARMING = 8  # harmonics that warm the walls: from six on no share changes by 2e-4 (ff, measured)


@dataclass(frozen=True)
class NoteEnergy:
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


class NoteEnergies:
    """The balances of a performance's notes."""

    def __init__(self, performance: Performance):
        self.performance = performance
        self.built: Built = performance.built
        self.held = lru_cache(lambda *how: held_bore(self.built, *how))

    def of(self, part: slice, frequency, held, by_impedance=False) -> NoteEnergy | None:
        """The balance of the samples `part`, cut to whole periods of `frequency` Hz; None for
        less than three.  `held`: as `build.held_bore` has it; `by_impedance`: the radiated share
        from the impedances too."""
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
        before, stored = state.books.copy(), stored_energy(self.built.horn.ladder, state, lines)
        block = performance.controls.block(first, stop, None, lines, None, 0)
        played = advance(self.built.horn, state, block, book=True)
        seconds = (stop - first) / rate
        books = named_books((state.books - before) / seconds)
        stored = (stored_energy(self.built.horn.ladder, state, lines) - stored) / seconds
        blown = books["blown"]
        if not blown > 0:
            return None
        throat = books["throat"]
        wall = books["wall"] + throat
        missing = books["into_bore"] - wall - books["radiated"] - stored
        jet = books["jet"] - books["channel"]
        spent = jet + books["damped"] + wall + books["radiated"] + stored
        bore, air = self.held(*held), self.built.air
        shares = wall_shares(bore, air, played.mouthpiece_pressure, rate, frequency)
        wall_at = {place: float(share * books["wall"]) for place, share in shares.items()}
        wall_at["mouthpiece"] += float(throat)
        share = None
        if by_impedance:
            share = share_by_impedance(bore, air, played.flow, rate, frequency)
        return NoteEnergy(
            seconds=seconds,
            blown=float(blown),
            jet=float(jet),
            lips=books["damped"],
            into_bore=books["into_bore"],
            wall=float(wall),
            throat=float(throat),
            wall_at=wall_at,
            radiated=books["radiated"],
            residual=float((blown - spent) / blown),
            bore_residual=float(missing / blown),
            share=float(books["radiated"] / books["into_bore"]),
            share_by_impedance=share,
        )


def wall_shares(bore, air, pressure, rate, frequency) -> dict[str, float]:
    """Share of what the walls take, by `PLACES`, where `pressure` (Pa, periods of `frequency` Hz
    at `rate`) stands at the lip end.

    P = Re(p u*)/2, summed over harmonics, is what passes a place (transmission line, textbook);
    what is lost between two is their difference.
    """
    spans = list(place_spans(bore))
    borders = np.unique([x for _, *ends in spans for x in ends])
    size = complex_harmonics(pressure, rate, frequency, WARMING)
    n = np.arange(1, len(size) + 1)
    wave = field(bore, air, n * frequency, np.clip(borders, 0, bore.length), pressure=size)
    passing = 0.5 * np.sum((wave.pressure * wave.flow.conj()).real, axis=0)
    lost_at = dict.fromkeys(PLACES, 0.0)
    for name, start, end in spans:
        begin, stop = np.searchsorted(borders, [start, end])
        lost_at[name] += max(float(passing[begin] - passing[stop]), 0.0)
    total = sum(lost_at.values())
    return {name: lost / total for name, lost in lost_at.items()} if total > 0 else lost_at


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


def energy_rows(performance: Performance) -> dict:
    """The energy books of the whole take, in J and W (defined in the docstring of `waveguide`);
    what the mouthpiece's throat and valves on their way take is a part of what the wall takes."""
    books = named_books(performance.books)
    books["wall"] += books["throat"] + books["fades"]
    length = len(performance.mouth) / performance.built.rate
    blown = books["blown"]
    missing = books["into_bore"] - books["wall"] - books["radiated"] - performance.stored
    energy = {f"{k}_j": books[k] for k in ("blown", "into_bore", "wall", "radiated")}
    energy["throat_j"], energy["valves_j"] = books["throat"], books["fades"]
    energy["lips_and_jet_j"] = books["jet"] + books["damped"] - books["channel"]
    energy["player_j"] = books["player"]
    energy["stored_j"] = performance.stored
    if performance.built.horn.mouth is not None:
        energy["lungs_j"], energy["glottis_j"] = books["lungs"], books["glottis"]
        energy["mouth_j"] = performance.held_in_mouth
    energy["residual"] = missing / blown if blown > 0 else 0.0
    energy |= {f"{k}_w": books[k] / length for k in ("blown", "into_bore", "wall", "radiated")}
    return energy
