"""How fast things are, in tables of times and as ratios measured in one run.

    pytest tests/benchmarks -m benchmark -n 0 -s

`lipmodel.waveguide.kernels` quotes them.  Only ratios are asserted, never seconds; what is compared
is timed turn by turn, so that whatever else the machine does meets both.
"""

import os
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from numba import njit
from scipy.integrate import solve_ivp

from lipmodel.acoustics.reflection import reflection_function
from lipmodel.air import Air
from lipmodel.bore import instruments
from lipmodel.lips import LARGE, SMALL
from lipmodel.mouth import Mouth
from lipmodel.scene.scene import read_scene
from lipmodel.sound.passage import passage
from lipmodel.sound.steepening import steepened
from lipmodel.studies import map
from lipmodel.system.workers import get_ready
from lipmodel.waveguide.fit import build_ladder
from lipmodel.waveguide.kernels import lips as kernel_lips
from lipmodel.waveguide.state import Horn
from lipmodel.waveguide.time_loop import play, warm_up

pytestmark = pytest.mark.benchmark
ROOT = Path(__file__).resolve().parents[2]
AIR = Air.at(22.0)
RATE = 48_000.0
TAPS = 4096
SECONDS = 0.5
TRUMPET = instruments.instrument("trumpet")


@njit(error_model="numpy")
def lips_on_convolution(backwards, zc, rho, dt, constants, lip, mouth, tension, damping,
                        past, pressure):  # fmt: skip
    """The same lips; the bore is a plain convolution, as a user would write it."""
    taps = backwards.shape[0]
    for n in range(mouth.shape[0]):
        back = 0.0
        for k in range(taps):
            back += backwards[k] * past[n + k]
        p, u, _, _, _, _ = kernel_lips.lips(
            0, constants, lip, tension[n], damping[n], 1.0,
            mouth[n], back, zc, 1.0 / zc, rho, dt,
        )  # fmt: skip
        past[n + taps] = p + zc * u
        pressure[n] = p


@njit(error_model="numpy")
def lips_alone(zc, rho, dt, constants, lip, mouth, tension, damping, pressure):
    """The lips blowing into an endless tube."""
    for n in range(mouth.shape[0]):
        p, _, _, _, _, _ = kernel_lips.lips(
            0, constants, lip, tension[n], damping[n], 1.0,
            mouth[n], 0.0, zc, 1.0 / zc, rho, dt,
        )  # fmt: skip
        pressure[n] = p


def controls(seconds):
    n = int(seconds * RATE)
    mouth = 8e3 * np.minimum(np.arange(n) / 960, 1)
    tension = np.full(n, 420.0)
    return mouth, tension, 1 / SMALL.quality_at(tension)


def rest():
    lip = np.zeros(8)
    lip[:2] = SMALL.rest
    return lip


def horn(name="trumpet", lips=SMALL):
    return Horn(build_ladder(instruments.instrument(name), AIR, RATE), lips, AIR.density)


def ladder_loop(name="trumpet", lips=SMALL, seconds=SECONDS, book=False, mouth=None):
    breath, tension, _ = controls(seconds)
    blown = replace(horn(name, lips), mouth=mouth)
    return lambda: play(blown, breath, tension, book)


def only_lips(seconds=SECONDS):
    mouth, tension, damping = controls(seconds)
    zc, pressure = AIR.impedance(np.pi * TRUMPET.radius[0] ** 2), np.zeros(len(mouth))
    shared = zc, AIR.density, 1 / RATE, SMALL.constants()
    return lambda: lips_alone(*shared, rest(), mouth, tension, damping, pressure)


def convolution(seconds=SECONDS):
    mouth, tension, damping = controls(seconds)
    zc, pressure = AIR.impedance(np.pi * TRUMPET.radius[0] ** 2), np.zeros(len(mouth))
    response = reflection_function(TRUMPET, AIR, RATE, 16384)[1 : TAPS + 1][::-1].copy()
    shared = zc, AIR.density, 1 / RATE, SMALL.constants()
    return lambda: lips_on_convolution(
        response, *shared, rest(), mouth, tension, damping,
        np.zeros(len(mouth) + TAPS), pressure,
    )  # fmt: skip


def modal_integration(seconds):
    """scipy's `solve_ivp` on a rational fit of the impedance, as a user would write it."""
    from support.independent import lips_independently, modal_bore

    poles, residues, direct, _ = modal_bore()

    def change(t, y):
        return lips_independently(y, 8e3 * min(t / 0.02, 1), poles, residues, direct, 420.0)[0]

    begin = np.concatenate([np.zeros(2 * len(poles)), SMALL.rest, [0.0, 0.0]])
    return lambda: solve_ivp(change, (0, seconds), begin, method="LSODA", rtol=1e-6, atol=1e-9)


def steepening(seconds=SECONDS):
    blown = horn()
    way, (mouth, tension, _, _) = passage(blown.ladder, TRUMPET, AIR), controls(seconds)
    wave = play(blown, mouth, tension).entering_wave
    assert np.any(steepened(blown.ladder, way, wave).flow)
    return lambda: steepened(blown.ladder, way, wave)


def turns(*functions, rounds=25):
    """Least time of each function in s, called in turn, the first time left out."""
    for function in functions:
        function()
    times = np.full(len(functions), np.inf)
    for _ in range(rounds):
        for i, function in enumerate(functions):
            began = time.perf_counter()
            function()
            times[i] = min(times[i], time.perf_counter() - began)
    return times


HALF_A_SECOND = {
    "lips alone": only_lips,
    "trumpet": ladder_loop,
    "trumpet, energy booked": lambda: ladder_loop(book=True),
    "tuba": lambda: ladder_loop("tuba", LARGE),
    "steepening": steepening,
    "convolution, 4096 taps": convolution,
}


@pytest.mark.parametrize("what", HALF_A_SECOND)
def test_half_a_second_of_sound(benchmark, what):
    benchmark.group = "half a second of sound at 48 kHz"
    made = HALF_A_SECOND[what]()
    benchmark.pedantic(made, rounds=20, warmup_rounds=1)


def test_a_fiftieth_of_a_second_by_a_general_integrator(benchmark):
    benchmark.group = "a fiftieth of a second, modes of the trumpet to 5.9 kHz"
    run = benchmark.pedantic(modal_integration(0.02), rounds=2, warmup_rounds=0)
    assert run.success


def test_a_mouth_costs_at_most_a_tenth_more():
    plain, with_mouth = turns(ladder_loop(), ladder_loop(mouth=Mouth(750.0)), rounds=60)
    print(f"\nwith a mouth {with_mouth / plain:.3f} times the loop without")
    assert with_mouth < 1.10 * plain


def test_the_loop_costs_at_most_two_and_a_half_times_the_lips():
    loop, alone = turns(ladder_loop(), only_lips(), rounds=60) / SECONDS
    print(
        f"\nper second of sound: trumpet {loop * 1e3:.2f} ms ({1 / loop:.0f} times real time), "
        f"lips alone {alone * 1e3:.2f} ms, ratio {loop / alone:.2f}"
    )
    assert loop < 2.5 * alone


def test_the_loop_is_much_faster_than_a_convolution_and_an_integrator():
    loop, fold = turns(ladder_loop(), convolution(), rounds=5) / SECONDS
    began = time.perf_counter()
    modal_integration(0.02)()
    modes = (time.perf_counter() - began) / 0.02
    print(
        f"\nper second of sound: convolution {fold * 1e3:.0f} ms, {fold / loop:.0f} times the loop;"
        f" solve_ivp {modes:.0f} s, {modes / loop:.0f} times"
    )
    assert fold > 10 * loop
    assert modes > 1000 * loop


def test_cost_grows_with_the_length_of_sound_and_bore():
    short, long = turns(ladder_loop(), ladder_loop(seconds=8 * SECONDS), rounds=10)
    trumpet, tuba = turns(ladder_loop(), ladder_loop("tuba", LARGE))
    print(
        f"\neight times the sound: {long / short:.2f} times the cost; tuba "
        f"({instruments.instrument('tuba').length:.2f} m): {tuba / trumpet:.2f} trumpets "
        f"({TRUMPET.length:.2f} m)"
    )
    assert long < 8 * 1.1 * short
    assert tuba < 4.5 * trumpet


def test_steepening_costs_at_most_twice_the_loop():
    seconds = 4.0
    loop, more = turns(ladder_loop(seconds=seconds), steepening(seconds), rounds=7)
    print(f"\nsteepening: {more / loop:.2f} times the loop")
    assert more < 2 * loop


@pytest.fixture(scope="module")
def survey_of(tmp_path_factory):
    path = tmp_path_factory.mktemp("map") / "grid.toml"
    path.write_text(
        '[instrument]\nname = "trumpet"\n[player]\ntension_hz = 300\npressure_kpa = 4\n'
    )
    warm_up()
    get_ready(2, map.PRELOAD)  # as the command does at its start
    return lambda: map.NoteMap(read_scene(path), None)


def test_a_map_on_two_workers(survey_of):
    if len(os.sched_getaffinity(0)) < 2:
        pytest.skip("one processor only")
    times = {}
    for workers in (1, 2):
        survey = survey_of()
        began = time.perf_counter()
        survey.run(workers)
        times[workers] = time.perf_counter() - began
        assert survey.done.all()
    cells, sound = np.prod(survey.grid.shape), survey.note
    print(
        f"\nmap of {cells} notes of {sound:g} s: {times[1]:.1f} s with one worker, {times[2]:.1f} "
        f"with two, {times[1] / times[2]:.2f} times; {1e3 * times[2] / cells:.1f} ms a note"
    )
    assert times[1] > 1.8 * times[2]


def seconds_of(*command, home):
    """Least wall time in s of three runs of a command."""
    env = {
        **os.environ,
        "LIPMODEL_CACHE": str(home / "kept"),
        "NUMBA_CACHE_DIR": str(home / "numba"),
    }
    times = []
    for _ in range(3):
        began = time.perf_counter()
        subprocess.run(
            [sys.executable, *command], env=env, cwd=ROOT, check=True, capture_output=True
        )
        times.append(time.perf_counter() - began)
    return times


def test_how_long_a_start_takes(tmp_path):
    bare = min(seconds_of("-c", "pass", home=tmp_path))
    told = min(seconds_of("-m", "lipmodel", "--help", home=tmp_path))
    note = "-m", "lipmodel", "render", "scenes/note.toml", "--out", str(tmp_path / "out")
    cold, *warm = seconds_of(*note, home=tmp_path)
    print(
        f"\n--help {told:.2f} s (python alone {bare:.2f} s); render scenes/note.toml: {cold:.1f} s "
        f"with empty caches, {min(warm):.2f} s with full ones"
    )
    assert told < 10 * bare
    assert min(warm) < 0.5 * cold
