"""The lip valve: its equations by the time loop's own code, and its laws."""

import itertools
from dataclasses import replace

import numpy as np
import pytest

from lipmodel.air import Air
from lipmodel.analysis.pitch import steady_pitch
from lipmodel.analysis.threshold import lip_response
from lipmodel.bore import instruments
from lipmodel.errors import SimulationError
from lipmodel.lips import LARGE, MOTIONS, PLAYERS, SMALL
from lipmodel.waveguide.fit import build_ladder
from lipmodel.waveguide.kernels import lips as kernel_lips
from lipmodel.waveguide.state import Block, Horn, start, stored_energy
from lipmodel.waveguide.time_loop import advance, play

AIR = Air.at(22.0)
RATE = 48_000.0


def horn(name="trumpet", lips=SMALL, rate=RATE):
    return Horn(build_ladder(instruments.instrument(name), AIR, rate), lips, AIR.density)


@pytest.fixture(scope="module")
def trumpet():
    return horn()


def one_sample(lips, x, y, mouth, back, zc, velocity=(0.0, 0.0), tension=300.0, rho=1.2):
    """What the time loop makes of one sample: pressure, flow, opening, jet and powers."""

    lip = np.array([x, y, 0.0, 0.0, *velocity, *velocity])
    quality, thickness = lips.law(tension)
    return kernel_lips.lips(
        MOTIONS.index(lips.motion), lips.constants(), lip, tension, 1 / quality, thickness,
        mouth, back, zc, 1 / zc, rho, 1 / RATE,
    )  # fmt: skip


def test_a_slit_passes_the_flow_of_bernoulli():
    # 12 x 0.5 mm at 3 kPa, rho 1.2: 0.4243 L/s (textbook).  A cup as wide as the world takes no
    # recovery, no aperture limit, a bore of no impedance
    lips = replace(SMALL, width=12e-3, cup_area=1e6, aperture_limit=1e6, smoothing=1e-9)
    _, flow, opening, jet, *_ = one_sample(lips, 0.0, 0.25e-3, 3000.0, 0.0, 1e-6)
    assert opening == pytest.approx(6e-6, rel=1e-6)
    assert jet == pytest.approx(0.4243e-3, abs=0.5e-7)
    assert flow == pytest.approx(jet)


@pytest.mark.parametrize("seed", range(200))
def test_the_junction_solves_its_own_equations_and_is_passive(seed):
    rng = np.random.default_rng(seed)
    mouth, back = rng.normal(0, 8e3, 2)
    y, zc = rng.uniform(-0.5e-3, 1.5e-3), 10 ** rng.uniform(5, 7)
    speed = rng.normal(0, 0.5, 2)
    pressure, flow, opening, jet, *_ = one_sample(SMALL, 1e-3, y, mouth, back, zc, speed)
    # the bore: p = back + zc u;  the jet: contraction by Bernoulli, expansion by momentum
    assert pressure == pytest.approx(back + zc * flow, rel=1e-9, abs=1e-6)
    cup = SMALL.cup_area
    loss = 0.5 * 1.2 * jet**2 * (1 / opening**2 - 2 / (opening * cup) + 2 / cup**2)
    across = mouth - pressure
    assert np.sign(jet) * loss == pytest.approx(across, rel=1e-7, abs=1e-6)
    assert across * jet >= 0
    # swept: both lips, 2 b n . v
    nx, ny = SMALL.joint[1] - y, 1e-3 - SMALL.joint[0]
    swept = 2 * SMALL.width * (nx * speed[0] + ny * speed[1])
    assert flow - jet == pytest.approx(swept, rel=1e-6, abs=1e-12)


def test_the_pressure_does_as_much_work_on_the_lips_as_the_swept_flow_takes():
    # conjugate pair: (pm - p) times swept flow = force times velocity of both lips.  The channel
    # is closed, so that nothing but the pressure difference acts
    at = {"tension": 300.0, "x": 1e-3, "y": -2e-3, "mouth": 4e3, "density": 1.2}
    vx, vy = 0.11, -0.07
    _, fx0, fy0 = lip_response(SMALL, vx=0, vy=0, pressure=4e3, **at)
    _, fx1, fy1 = lip_response(SMALL, vx=0, vy=0, pressure=1e3, **at)
    still, *_ = lip_response(SMALL, vx=0, vy=0, pressure=1e3, **at)
    moving, *_ = lip_response(SMALL, vx=vx, vy=vy, pressure=1e3, **at)
    work = 2 * ((fx1 - fx0) * vx + (fy1 - fy0) * vy)
    assert work == pytest.approx(3e3 * (moving - still), rel=1e-3)


def test_tension_is_the_lips_own_frequency():
    # no breath, no air to speak of: the lips ring at their tension and die with their Q
    lips = replace(SMALL, smoothing=1e-7, stiffening=(1e3, 1e3), rest=(1.0e-3, 1e-3))
    bore = horn(lips=lips)
    thin = Horn(bore.ladder, replace(lips, width=1e-9), AIR.density)
    state = start(thin)
    state.lip[1] += 0.2e-3
    n, ys = 4800, []
    for _ in range(n):
        advance(thin, state, Block(np.zeros(1), np.full(1, 300.0)))
        ys.append(state.lip[1] - 1e-3)
    ys = np.array(ys)
    # damped oscillation: zero crossings at f sqrt(1 - 1/(4 Q^2)), decay pi f/Q
    quality, _ = lips.law(300.0)
    crossing = np.flatnonzero((ys[:-1] < 0) & (ys[1:] >= 0))[:5]
    when = crossing + ys[crossing] / (ys[crossing] - ys[crossing + 1])
    found = RATE / np.diff(when).mean()
    assert found == pytest.approx(300 * np.sqrt(1 - 1 / (4 * quality**2)), rel=2e-3)
    peaks = [ys[int(a) : int(b)].max() for a, b in itertools.pairwise(when)]
    decay = -np.log(peaks[1] / peaks[0]) * found
    assert decay == pytest.approx(np.pi * 300 / quality, rel=0.02)


def test_laws_follow_tension_as_documented():
    quality, thickness = SMALL.law(np.array([100.0, 233.0, 932.0, 3000.0]))
    np.testing.assert_allclose(quality, 3 * np.array([1, 1, 2, (1600 / 233) ** 0.5]), rtol=1e-12)
    np.testing.assert_allclose(
        thickness, 2.3e-3 * np.array([1, 1, 4**-0.3, (1600 / 233) ** -0.3]), rtol=1e-12
    )


@pytest.mark.parametrize("motion", MOTIONS)
def test_energy_is_booked_to_the_last_joule(trumpet, motion):
    horn = replace(trumpet, lips=replace(SMALL, motion=motion))
    state = start(horn)
    n = int(0.5 * RATE)
    rising = 6e3 * np.minimum(np.arange(n) / 960, 1)
    advance(horn, state, Block(rising, np.full(n, 420.0)), book=True)
    before, state.books[:] = stored_energy(horn, state), 0
    advance(horn, state, Block(np.full(n, 6e3), np.full(n, 420.0)), book=True)
    blown, into, wall, radiated, jet, damped, channel, throat = state.books
    stored = stored_energy(horn, state) - before
    # the bore's book: each term is summed on its own; measured 2e-15
    assert abs(into - wall - throat - radiated - stored) / blown < 1e-9
    # the lips' book: the Bernoulli force in the channel, and what moves lips that swing, have no
    # conjugate flow, so what they give the lips is booked by itself; measured 1e-4 of what is blown
    lips = blown - into - jet - damped + channel
    assert abs(lips) < 2e-3 * blown
    # measured 0.20, 0.05 and 0.02
    assert 0.01 < damped / blown < 0.3
    assert 0.001 < radiated / into < 0.2
    assert throat > 0


def test_without_breath_energy_only_falls(trumpet):
    state = start(trumpet)
    advance(trumpet, state, Block(np.full(2400, 6e3), np.full(2400, 420.0)))
    last = np.inf
    for _ in range(30):
        advance(trumpet, state, Block(np.zeros(480), np.full(480, 420.0)))
        now = stored_energy(trumpet, state)
        # the lips still ring and push a little air at first
        assert now < max(1.02 * last, 1e-12)
        last = now
    assert last < 1e-6


STRESS = [(kpa, hz) for kpa in (2, 6, 10, 15, 20, 25) for hz in np.geomspace(50, 1500, 10)]


@pytest.mark.parametrize("kpa", [2, 6, 10, 15, 20, 25])
def test_hard_blowing_stays_bounded(trumpet, kpa):
    # 60 runs in all: 2-25 kPa, 50-1500 Hz, 3 ms attack, 10 % vibrato of the lips
    n = int(0.4 * RATE)
    t = np.arange(n) / RATE
    for hz in np.geomspace(50, 1500, 10):
        mouth = 1e3 * kpa * np.minimum(t / 3e-3, 1)
        tension = hz * (1 + 0.1 * np.sin(2 * np.pi * 6 * t))
        played = play(trumpet, mouth, tension)
        assert np.abs(played.mouthpiece_pressure).max() < 6e3 * kpa, hz
        assert np.abs(played.lip_opening).max() < 4e-5, hz


def test_a_run_that_leaves_the_model_says_when_and_what_to_try(trumpet):
    wild = Horn(trumpet.ladder, replace(SMALL, stiffness_per_hz=1e-7), AIR.density)
    n = 4800
    with pytest.raises(SimulationError) as told:
        play(wild, np.full(n, 4e7), np.full(n, 1500.0))
    text = str(told.value)
    assert "left the model's range" in text
    assert "after 0.0" in text
    assert "mouth pressure 4e+04 kPa" in text
    assert "sound.rate_hz" in text
    assert "\n" not in text


def test_the_same_controls_give_the_same_samples(trumpet):
    n = 9600
    first = play(trumpet, np.full(n, 5e3), np.full(n, 300.0))
    again = play(trumpet, np.full(n, 5e3), np.full(n, 300.0))
    np.testing.assert_array_equal(first.mouthpiece_pressure, again.mouthpiece_pressure)
    # in blocks or in one piece, booked or not
    state, parts = start(trumpet), []
    for at in range(0, n, 700):
        size = min(700, n - at)
        block = Block(np.full(size, 5e3), np.full(size, 300.0))
        parts.append(advance(trumpet, state, block, book=True).mouthpiece_pressure)
    np.testing.assert_array_equal(first.mouthpiece_pressure, np.concatenate(parts))


def test_a_copied_state_plays_on_alike_and_alone(trumpet):
    state = start(trumpet)
    advance(trumpet, state, Block(np.full(4800, 5e3), np.full(4800, 300.0)))
    twin = state.copy()
    block = Block(np.full(4800, 5e3), np.full(4800, 310.0))
    a = advance(trumpet, state, block).mouthpiece_pressure
    b = advance(trumpet, twin, block).mouthpiece_pressure
    np.testing.assert_array_equal(a, b)


def test_players_are_who_they_should_be():
    assert PLAYERS == {"small": SMALL, "large": LARGE}
    assert LARGE.width > SMALL.width
    with pytest.raises(ValueError, match="motion"):
        replace(SMALL, motion="sideways")


@pytest.mark.parametrize(("tension", "peak"), [(300.0, 229.5), (400.0, 344.2), (500.0, 460.8)])
def test_lifted_lips_play_below_the_resonance(trumpet, tension, peak):
    """Lips moved upward by the pressure in their channel play below lips and peak (lip models of
    S. Adachi and M. Sato 1995; N. Fletcher's classes of valves, from memory)."""
    lifted = replace(trumpet, lips=replace(SMALL, motion="lift"))
    n = int(RATE)
    mouth = 4e3 * np.minimum(np.arange(n) / 960, 1)
    wave = play(lifted, mouth, np.full(n, tension)).mouthpiece_pressure[-9600:]
    assert wave.std() > 1000
    assert 0.9 * peak < steady_pitch(wave, RATE) < peak
