"""Ladder, resonances, radiation filter, passage: kept between runs."""

from dataclasses import fields
from functools import lru_cache

import numpy as np

from lipmodel.acoustics.resonances import HIGHEST, Resonance, resonances
from lipmodel.air import Air
from lipmodel.bore.geometry import Bore
from lipmodel.files.cache import cached, key_of
from lipmodel.sound.listener import filter_at
from lipmodel.sound.passage import Passage, passage
from lipmodel.sound.room import Place, Room, direct, reflections
from lipmodel.waveguide.fit import build_ladder
from lipmodel.waveguide.ladder import Ladder, ladder_arrays, ladder_from_arrays

MOST_PLAYED = 20  # of the tube's half wavelengths: room for the 16th partial


class BoreKey:
    """Bore and air as something to look up by: variants mostly share their bore."""

    def __init__(self, bore: Bore, air):
        self.bore, self.air = bore, air
        self.key = (bore.x.tobytes(), bore.radius.tobytes(), bore.end, bore.mouthpiece_end, air)

    def __hash__(self):
        return hash(self.key)

    def __eq__(self, other):
        return self.key == other.key


@lru_cache(maxsize=16)
def shared_ladder(key: BoreKey, rate: float) -> Ladder:
    return kept_ladder(key.bore, key.air, rate)


def kept_ladder(bore: Bore, air, rate: float) -> Ladder:
    """`build_ladder`, kept between runs."""
    name = key_of("ladder", bore, air, rate)
    return cached(name, lambda: build_ladder(bore, air, rate), ladder_arrays, ladder_from_arrays)


def kept_resonances(bore: Bore, air) -> list[Resonance]:
    """`resonances` of a bore in air, kept between runs."""
    name = key_of("resonances", bore, air)
    return cached(name, lambda: resonances(bore, air), _resonance_rows, _resonances_of)


def played_resonances(bore: Bore, air) -> list[Resonance]:
    """The first of `kept_resonances`, at least sixteen where so many lie under 2 kHz: all that
    are played.  Of a long tube that is a third of the work."""
    highest = min(HIGHEST, MOST_PLAYED * 343.0 / (2 * bore.length))
    name = key_of("resonances", bore, air, highest)
    return cached(
        name, lambda: resonances(bore, air, highest=highest), _resonance_rows, _resonances_of
    )


def _resonance_rows(found) -> dict:
    rows = [(r.frequency, r.magnitude, np.nan if r.quality is None else r.quality) for r in found]
    return {"rows": np.array(rows).reshape(-1, 3)}


def _resonances_of(known: dict) -> list[Resonance]:
    return [
        Resonance(n, float(f), float(m), None if np.isnan(q) else float(q))
        for n, (f, m, q) in enumerate(known["rows"], 1)
    ]


def kept_radiation_filter(bore: Bore, air: Air, rate: float, *place) -> np.ndarray:
    """From the open end to ears at `place`, `listener.filter_at`, kept between runs."""
    name = key_of("radiation", bore, air, rate, *place)
    return _kept_response(name, lambda: filter_at(bore, air, rate, *place))


def kept_direct(bore: Bore, air: Air, rate: float, place: Place) -> np.ndarray:
    """`room.direct`, kept between runs."""
    name = key_of("direct", bore, air, rate, *place.way())
    return _kept_response(name, lambda: direct(bore, air, rate, place))


def kept_reflections(bore: Bore, air: Air, rate: float, room: Room, place: Place, *how):
    """`room.reflections`, kept between runs."""
    where = [at.tolist() for at in (place.horn, place.ear, place.axis)]
    name = key_of("reflections", bore, air, rate, room, *where, *how)
    return _kept_response(name, lambda: reflections(bore, air, rate, room, place, *how))


def _kept_response(name: str, make) -> np.ndarray:
    return cached(name, make, lambda response: {"response": response}, lambda k: k["response"])


def kept_passage(ladder: Ladder, bore: Bore, air) -> Passage:
    """`steepening.passage` of a bore and its ladder, kept between runs."""
    name = key_of("passage", bore, air, ladder.rate)
    return cached(
        name,
        lambda: passage(ladder, bore, air),
        lambda way: {f.name: np.asarray(getattr(way, f.name)) for f in fields(Passage)},
        lambda known: Passage(**{k: v.item() if v.ndim == 0 else v for k, v in known.items()}),
    )
