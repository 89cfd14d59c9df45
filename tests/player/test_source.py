"""A tube that nobody blows, played: rushing air, heat, the seed of its noise."""

import numpy as np
import pytest
from scipy.signal import welch
from support import source_scenes
from support.music import AIR, RATE, cents
from support.pipe import BORES, LENGTH, PIPE, closed_form, heat_of, ladder, own_peaks

from lipmodel.acoustics.open_pipe import natural_frequencies
from lipmodel.acoustics.resonances import resonances
from lipmodel.acoustics.thermoacoustic import rayleigh
from lipmodel.analysis.peaks import answer, peak_near
from lipmodel.analysis.pitch import steady_pitch
from lipmodel.bore.geometry import Bore
from lipmodel.player.build import build
from lipmodel.player.run import simulate
from lipmodel.player.source import noise, play_source
from lipmodel.scene.scene import read_scene
from lipmodel.waveguide.fit import build_ladder
from lipmodel.waveguide.source_loop import drive, tube

scene = source_scenes.scene  # the same fixture


@pytest.mark.parametrize("name", BORES)
def test_rushing_air_has_the_peaks_of_the_tube(name):
    bore, made = ladder(name)
    # a low and wide peak scatters more: of the trombone's first, at 42 Hz, 20 s with six seeds
    # leave -6.4 to +6.5 cents, 40 s -3.0 to +6.3, without a bias
    seconds = 40 if own_peaks(name)[0] < 50 else 20
    flow = 2e-5 * noise(np.random.default_rng(1), RATE, int(seconds * RATE))
    driven = drive(tube(made, bore, AIR, 0.0), flow)
    # averaged pressure over averaged flow, as the report tells it: measured 3.0 cents
    frequency, size = answer(flow, driven.lip_pressure, RATE)
    found = np.array([peak_near(frequency, size, f) for f in own_peaks(name)])
    assert np.max(np.abs(cents(found, own_peaks(name)))) < 5.0
    # the averaged spectrum of the pressure alone: 20 s of noise leave 5 cents of scatter at the
    # lowest peaks, and the quartic some 5 of bias where peaks are skew; measured 10.5 (hose)
    frequency, power = welch(driven.lip_pressure, RATE, nperseg=int(2 * RATE))
    quality = [r.quality or 15 for r in resonances(bore, AIR)]
    for f, q in zip(own_peaks(name), quality, strict=False):
        width = min(1.5 * f / q, 0.3 * np.diff(own_peaks(name)).min())
        near = smooth_peak(frequency, power, f, width)
        assert abs(cents(smooth_peak(frequency, power, near, width), f)) < 13.0


def smooth_peak(frequency, power, near, width):
    """Maximum of the quartic whose exponential is the likeliest spectrum (P. Whittle 1953: each
    line of an averaged spectrum is spread like a chi-square around it)."""
    inside = np.abs(frequency - near) < width
    x, y = (frequency[inside] - near) / width, power[inside]
    base = np.polynomial.chebyshev.chebvander(x, 4)
    c = np.linalg.lstsq(base, np.log(y), rcond=None)[0]
    for _ in range(30):
        share = y * np.exp(-base @ c)
        c = c + np.linalg.solve(base.T @ (share[:, None] * base), base.T @ (share - 1))
    fine = np.linspace(-0.8, 0.8, 4001)
    return near + width * fine[np.argmax(np.polynomial.chebyshev.chebval(fine, c))]


def flame(place, lag, watts, seconds=2.5, bore=PIPE, made=None):
    made = made or ladder("open pipe")[1]
    where = tube(made, bore, AIR, place, "open")
    stir = 2e-3 * made.admittance[0] * noise(np.random.default_rng(1), RATE, int(seconds * RATE))
    return drive(where, stir, heat_of(watts, lag))


def test_heat_makes_it_grow_only_where_rayleigh_says():
    modes = natural_frequencies(PIPE, AIR)[:6]
    period = 1 / modes[0].frequency
    grown, silent = 0, 0
    for share in (1 / 8, 1 / 4, 0.4, 0.6, 3 / 4):
        for turn in (0.1, 0.25, 0.4, 0.6, 0.75, 0.9):
            for watts in (2.0, 4.0):
                told = closed_form(share * LENGTH, turn * period, watts, modes)
                best = max(g.fed - g.lost for g in told)
                # near the edge a closed form to first order cannot tell: it errs by 5 /s at 50
                if abs(best) < 4:
                    continue
                driven = flame(share * LENGTH, turn * period, watts)
                rms = np.std(driven.source_pressure[-4800:])
                # what grows reaches 49 Pa or more, what does not stays under 0.004 Pa
                assert (rms > 1.0) == (best > 0), (share, turn, watts, best, rms)
                assert not 0.1 < rms < 10
                grown, silent = grown + (rms > 1), silent + (rms <= 1)
    assert grown >= 15
    assert silent >= 25


def test_small_motion_grows_as_fast_as_the_theory_says():
    modes = natural_frequencies(PIPE, AIR)
    lag = 0.25 / modes[0].frequency
    heat = heat_of(3.0, lag)
    told = rayleigh(PIPE, AIR, modes[:1], LENGTH / 4, heat.top * heat.gain, lag)[0]
    pressure = flame(LENGTH / 4, lag, 3.0).source_pressure
    block = 2400
    size = np.sqrt(np.mean(pressure[: len(pressure) // block * block].reshape(-1, block) ** 2, 1))
    small = np.flatnonzero((size > 0.03) & (size < 3.0))
    slope = np.polyfit(small * block / RATE, np.log(size[small]), 1)[0]
    # measured 5 %
    assert slope == pytest.approx(told.fed - told.lost, rel=0.12)


@pytest.mark.parametrize(("share", "turn"), [(1 / 4, 0.25), (3 / 4, 0.75), (1 / 8, 0.25)])
def test_it_settles_at_the_resonance_of_the_pipe(share, turn):
    first = natural_frequencies(PIPE, AIR)[0].frequency
    pressure = flame(share * LENGTH, turn / first, 4.0).source_pressure
    found = steady_pitch(pressure[-int(0.5 * RATE) :], RATE)
    # a quarter of a period behind, heat feeds and does not pull: measured 1.4 cents
    assert abs(cents(found, first)) < 10
    # settled: the last tenth of a second is as loud as the one before
    last, before = pressure[-4800:], pressure[-9600:-4800]
    assert np.std(last) == pytest.approx(np.std(before), rel=0.02)


@pytest.mark.parametrize(("radius", "sings"), [(7.5e-3, True), (3e-3, False)])
def test_a_thin_pipe_loses_too_much(radius, sings):
    # the same heat for the same area feeds by 33 /s; walls and ends take 21 of the wide pipe, 53
    # of the thin one
    bore = Bore([0, LENGTH], [radius, radius])
    made = build_ladder(bore, AIR, RATE)
    lag = 0.25 / natural_frequencies(bore, AIR)[0].frequency
    driven = flame(LENGTH / 4, lag, 2.5 * (radius / 7.5e-3) ** 2, bore=bore, made=made)
    assert (np.std(driven.source_pressure[-4800:]) > 1.0) == sings


def test_the_public_simulate_takes_a_source(scene):
    run = simulate(read_scene(scene('kind = "pop"')))
    assert not run.tension.any()
    # the wave that the slap starts; the first echo comes back turned over
    assert run.mouthpiece_pressure.max() == pytest.approx(1000.0, rel=0.02)


def test_noise_is_the_seed(scene):
    def first(seed):
        return play_source(
            build(read_scene(scene('kind = "breath"', f"seed = {seed}")))
        ).driven.flow

    np.testing.assert_array_equal(first(3), first(3))
    assert np.std(first(3)) == pytest.approx(2e-5, rel=0.2)
    assert np.std(first(3) - first(4)) > 1e-5
