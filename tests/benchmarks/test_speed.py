"""How fast the time loop is, as ratios measured in one run.

    pytest tests/benchmarks -m benchmark -s

Prints the figures that DEVELOPERS.md quotes; asserts ratios only, never seconds.
"""

import time

import numpy as np
import pytest
from numba import njit

from lipmodel import instruments, kernel
from lipmodel.acoustics.reflection import reflection_function
from lipmodel.air import Air
from lipmodel.fit import build_ladder
from lipmodel.lips import SMALL
from lipmodel.steepening import passage, steepened
from lipmodel.timeloop import Horn, play

pytestmark = pytest.mark.benchmark

AIR = Air.at(22.0)
RATE = 48_000.0
TAPS = 4096
BORE = instruments.instrument("trumpet")


@njit(error_model="numpy")
def lips_on_convolution(backwards, zc, rho, dt, constants, lip, mouth, tension, damping, thickness,
                        past, pressure):  # fmt: skip
    """The same lips; the bore is a plain convolution, as a user would write it."""
    taps = backwards.shape[0]
    for n in range(mouth.shape[0]):
        back = 0.0
        for k in range(taps):
            back += backwards[k] * past[n + k]
        p, u, _, _, _, _ = kernel._lips(
            0, constants, lip, tension[n], damping[n], thickness[n],
            mouth[n], back, zc, 1.0 / zc, rho, dt,
        )  # fmt: skip
        past[n + taps] = p + zc * u
        pressure[n] = p


@njit(error_model="numpy")
def lips_alone(zc, rho, dt, constants, lip, mouth, tension, damping, thickness, pressure):
    """The lips blowing into an endless tube."""
    for n in range(mouth.shape[0]):
        p, _, _, _, _, _ = kernel._lips(
            0, constants, lip, tension[n], damping[n], thickness[n],
            mouth[n], 0.0, zc, 1.0 / zc, rho, dt,
        )  # fmt: skip
        pressure[n] = p


def best(function, repeats=7):
    """Least time of several calls in s, the first left out."""
    function()
    times = []
    for _ in range(repeats):
        began = time.perf_counter()
        function()
        times.append(time.perf_counter() - began)
    return min(times)


def controls(seconds):
    n = int(seconds * RATE)
    mouth = 8e3 * np.minimum(np.arange(n) / 960, 1)
    tension = np.full(n, 420.0)
    quality, thickness = SMALL.law(tension)
    return mouth, tension, 1 / quality, thickness


def rest():
    lip = np.zeros(8)
    lip[:2] = SMALL.rest
    return lip


def test_the_loop_is_faster_than_convolution_and_real_time():
    seconds = 2.0
    mouth, tension, damping, thickness = controls(seconds)
    horn = Horn(build_ladder(BORE, AIR, RATE), SMALL, AIR.density)
    zc = AIR.impedance(np.pi * BORE.radius[0] ** 2)
    response = reflection_function(BORE, AIR, RATE, 16384)[1 : TAPS + 1][::-1].copy()
    pressure = np.zeros(len(mouth))
    shared = (zc, AIR.density, 1 / RATE, SMALL.constants())

    loop = best(lambda: play(horn, mouth, tension)) / seconds
    booked = best(lambda: play(horn, mouth, tension, book=True)) / seconds
    fold = best(
        lambda: lips_on_convolution(
            response, *shared, rest(), mouth, tension, damping, thickness,
            np.zeros(len(mouth) + TAPS), pressure,
        ),
        repeats=3,
    ) / seconds  # fmt: skip
    alone = best(
        lambda: lips_alone(*shared, rest(), mouth, tension, damping, thickness, pressure)
    ) / seconds  # fmt: skip
    print(
        f"\nper second of sound at 48 kHz: loop {loop * 1e3:.2f} ms ({1 / loop:.0f} times real "
        f"time), with energy books {booked * 1e3:.2f} ms, convolution with {TAPS} taps "
        f"{fold * 1e3:.1f} ms, lips alone {alone * 1e3:.2f} ms\n"
        f"convolution/loop {fold / loop:.1f}, loop/lips alone {loop / alone:.1f}"
    )
    assert fold > 3 * loop


def test_steepening_costs_at_most_twice_the_loop():
    seconds = 4.0
    mouth, tension, _, _ = controls(seconds)
    horn = Horn(build_ladder(BORE, AIR, RATE), SMALL, AIR.density)
    way = passage(horn.ladder, BORE, AIR)
    played = play(horn, mouth, tension)

    def more():
        return steepened(horn.ladder, way, played.entering_wave)

    assert np.any(more().flow)
    # turn by turn, so that what else the machine does meets both
    pairs = [(best(lambda: play(horn, mouth, tension), 1), best(more, 1)) for _ in range(7)]
    loop, added = (min(times) / seconds for times in zip(*pairs, strict=True))
    print(
        f"\nper second of sound at 48 kHz: loop {loop * 1e3:.2f} ms, steepening {added * 1e3:.2f} "
        f"ms, {added / loop:.2f} times the loop"
    )
    assert added < 2 * loop
