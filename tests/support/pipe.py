"""An open pipe and its own peaks, a slap, and heat in closed form."""

from functools import cache
from types import SimpleNamespace

import numpy as np
from support.music import AIR, RATE

from lipmodel.analysis.peaks import peak_near
from lipmodel.bore import instruments
from lipmodel.bore.geometry import Bore
from lipmodel.waveguide.fit import build_ladder
from lipmodel.waveguide.impulse_response import waveguide_reflection
from lipmodel.waveguide.source_loop import Heat

BORES = ("trumpet", "pipe", "cone", "trombone", "hose")
SIZE = 1 << 17  # samples of an echo: longer than any of them rings
FIRST = 6  # resonances looked at
# an open pipe for the flame: length and radius in m
LENGTH, RADIUS = 0.7, 7.5e-3
PIPE = Bore([0, LENGTH], [RADIUS, RADIUS])
LEVINE_SCHWINGER = 0.6133  # end correction over radius, low frequency; Phys. Rev. 73, 383, 1948


@cache
def ladder(name):
    bore = PIPE if name == "open pipe" else instruments.instrument(name)
    return bore, build_ladder(bore, AIR, RATE)


@cache
def own_peaks(name):
    """Impedance peaks of the time-domain bore, from its answer to a click."""
    frequency, size = own_impedance(name)
    at = np.flatnonzero((size[1:-1] > size[:-2]) & (size[1:-1] >= size[2:])) + 1
    at = at[(frequency[at] > 20) & (frequency[at] < 1500)][:FIRST]
    return np.array([peak_near(frequency, size, frequency[i]) for i in at])


@cache
def own_impedance(name):
    bore, _ = ladder(name)
    response = waveguide_reflection(bore, AIR, RATE, SIZE)
    r = np.fft.rfft(response, 1 << 20)
    frequency = np.fft.rfftfreq(1 << 20, 1 / RATE)
    zc = AIR.impedance(np.pi * bore.radius[0] ** 2)
    return frequency, zc * np.abs((1 + r) / (1 - r))


def slap(samples, at=100, count=29):
    flow = np.zeros(samples)
    flow[at : at + count] = 1e-5 * np.hanning(count + 2)[1:-1]
    return flow


def heat_of(watts, lag, draught=0.3):
    ratio = 1.4
    volume = (ratio - 1) / (AIR.density * AIR.sound_speed**2)
    return Heat(volume * watts, 1 / draught, lag)


def closed_form(place, lag, watts, modes):
    """Growth and loss in 1/s of each mode of a lossless open pipe: with p = sin(kx) and
    u = -cos(kx) a quarter of a period later, mean p q' goes as sin(2 k x) sin(w lag)
    (Rayleigh, Nature 18, 319, 1878; the product is worked out here)."""
    heat, end = heat_of(watts, lag), LEVINE_SCHWINGER * RADIUS
    long, area = LENGTH + 2 * end, np.pi * RADIUS**2
    scale = heat.top * heat.gain * AIR.sound_speed / (2 * area * long)
    for mode in modes:
        omega = 2 * np.pi * mode.frequency
        product = np.sin(2 * mode.n * np.pi * (place + end) / long) * np.sin(omega * lag)
        yield SimpleNamespace(fed=scale * product, lost=omega / (2 * mode.quality))
