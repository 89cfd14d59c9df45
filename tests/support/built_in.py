"""The built-in instruments: which are played, where their resonances lie, how far from a series."""

import numpy as np
from support.music import AIR

from lipmodel.acoustics.resonances import resonances
from lipmodel.bore import instruments
from lipmodel.bore.assembly import to_bore
from lipmodel.bore.valves import has_mark, valve_numbers

PLAYED = [
    name
    for name in instruments.names()
    if valve_numbers(instruments.spec(name)) or has_mark(instruments.spec(name), "slide")
    if instruments.spec(name).kind == "instrument"
]


def peaks(name, air=AIR, **held):
    return np.array([r.frequency for r in resonances(to_bore(instruments.spec(name), **held), air)])


def off(frequencies, reference):
    return 1200 * np.log2(np.asarray(frequencies) / reference)


def series(found, last):
    """Fundamental of the harmonic series that fits resonances 2 to `last` best, and cents."""
    n = np.arange(2, last + 1)
    base = np.exp(np.mean(np.log(found[1:last] / n)))
    return base, off(found[1:last], n * base)
