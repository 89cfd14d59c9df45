"""Where notes begin: theory, time loop and published facts."""

from dataclasses import replace

import numpy as np
import pytest
from support.horns import PEAKS, TRUMPET, horn
from support.music import AIR, RATE

from lipmodel.acoustics.resonances import resonances
from lipmodel.air import Air
from lipmodel.analysis.pitch import steady_pitch
from lipmodel.analysis.threshold import growth, lip_response, threshold
from lipmodel.bore.geometry import Bore
from lipmodel.lips import SMALL, Lips
from lipmodel.mouth import Mouth
from lipmodel.waveguide.time_loop import play


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


SETTINGS = (0.76, 0.80, 0.84, 0.88, 0.92)  # of the lips over the peak


@pytest.fixture(scope="module")
def thresholds():
    """Lowest threshold of each partial over the setting (Pa, Hz)."""
    found = {}
    for partial in (2, 3, 4, 5, 6, 8, 12):
        peak = PEAKS[partial - 1][1]
        known = [threshold(TRUMPET, AIR, SMALL, share * peak, peak) for share in SETTINGS]
        # a mode far from the peak belongs to another partial
        near = [t for t in known if t and abs(1200 * np.log2(t.frequency / peak)) < 90]
        found[partial] = min(near, key=lambda t: t.pressure)
    return found


def test_thresholds_grow_in_proportion_to_frequency(thresholds):
    ratio = [thresholds[p].pressure / PEAKS[p - 1][1] for p in (2, 3, 4, 5, 6, 8)]
    # published: about proportional; measured 5.9 to 6.3 Pa/Hz, a factor of 1.1; at
    # the setting that plays in tune 7.3 to 8.3
    assert max(ratio) / min(ratio) < 1.5
    assert 1500 < thresholds[4].pressure < 5000
    assert thresholds[12].pressure < 25_000


@pytest.mark.parametrize("partial", [2, 3, 4, 5, 6])
def test_the_time_loop_begins_where_the_theory_says(thresholds, partial):
    found = thresholds[partial]
    trumpet = horn()
    n = int(2.5 * RATE)
    breath = np.minimum(np.arange(n) / (0.05 * RATE), 1)
    tension = np.full(n, found.tension)

    def ends(share):
        pressure = play(trumpet, share * found.pressure * breath, tension).mouthpiece_pressure
        early, late = pressure[int(0.8 * RATE) : int(1.2 * RATE)], pressure[-int(0.4 * RATE) :]
        return early, late

    early, late = ends(0.95)
    assert late.std() < 0.5 * early.std() or late.std() < 1.0
    early, late = ends(1.05)
    assert late.std() > 100 or late.std() > 1.5 * early.std()
    # a note is born at the theory's pitch and sharpens as it grows: measured 8 cents at 1.05 times
    # the pressure of its birth, 4 at 1.02
    _, late = ends(1.02)
    heard = steady_pitch(late, RATE, floor=0.01)
    assert abs(1200 * np.log2(heard / found.frequency)) < 6


def lowest(partial, tract):
    """Lowest threshold of a partial over the setting, with a mouth upstream."""
    peak = PEAKS[partial - 1][1]
    shares = SETTINGS if partial < 6 else (0.72, *SETTINGS)
    known = [threshold(TRUMPET, AIR, SMALL, share * peak, peak, tract=tract) for share in shares]
    near = [t for t in known if t and abs(1200 * np.log2(t.frequency / peak)) < 90]
    return min(near, key=lambda t: t.pressure)


@pytest.mark.slow
@pytest.mark.parametrize("resonance", [300.0, 750.0])
@pytest.mark.parametrize("partial", [2, 3, 4, 5, 6])
def test_notes_begin_where_the_theory_says_with_a_mouth_in_series(thresholds, partial, resonance):
    tract = Mouth(resonance)
    found = lowest(partial, tract)
    # peaks of the mouth are an eighth of the bore's: measured -8.2 (partial 3, mouth at 300 Hz)
    # to +4.4 %
    assert abs(found.pressure / thresholds[partial].pressure - 1) < 0.1
    blown, n = replace(horn(), mouth=tract), int(2.5 * RATE)
    breath = np.minimum(np.arange(n) / (0.05 * RATE), 1)

    def ends(share):
        tension = np.full(n, found.tension)
        pressure = play(blown, share * found.pressure * breath, tension).mouthpiece_pressure
        return pressure[int(0.8 * RATE) : int(1.2 * RATE)], pressure[-int(0.4 * RATE) :]

    early, late = ends(0.95)
    assert late.std() < 0.5 * early.std() or late.std() < 1.0
    assert ends(1.05)[1].std() > 100
    # as without a mouth; measured within 1 cent at 1.02
    heard = steady_pitch(ends(1.02)[1], RATE, floor=0.01)
    assert abs(1200 * np.log2(heard / found.frequency)) < 6


@pytest.mark.slow
def test_a_mouth_of_no_impedance_leaves_the_threshold_where_it_was(thresholds):
    assert lowest(4, Mouth(750.0, peak=1.0)).pressure == pytest.approx(
        thresholds[4].pressure, rel=1e-6
    )


def test_the_theory_agrees_with_a_published_one_mass_lip():
    # set of a one-mass outward lip (P. Velut, C. Vergez, J. Gilbert and M. Djahanbani, Acta
    # Acustica u. Acustica 103, 132-148, 2017; values from memory) on a lossy cylinder of 1.4 m,
    # radius 5.83 mm, 20 degrees C, p = 0 at its end: 1566 Pa and 192.99 Hz at 170 Hz, from the
    # characteristic equation by other means
    dry = Air(343.344, 1.20458, 1.82057e-5, 1.40197, 0.7080)
    pipe = Bore([0, 1.4], [5.83e-3] * 2, end="node")
    lips = Lips(
        motion="swing", width=12e-3, thickness=2e-3, rest=(0.0, 0.0), quality=7.0,
        stiffness_per_hz=1.0, joint=(0.0, 4e-3), cup_area=1e3, reference=100.0,
        aperture_limit=1e3, stiffening=(1.0, 1.0), smoothing=1e-7, mass_per_area=1 / 0.11,
        swing_rest=5e-4, swing_quality=7.0,
    )  # fmt: skip
    for tension, pressure, frequency in ((170.0, 1566.0, 192.99), (290.0, 4652.0, 315.50)):
        near = 180.17 if tension < 200 else 301.69
        found = threshold(pipe, dry, lips, tension, near)
        assert found.pressure == pytest.approx(pressure, rel=0.005)
        assert found.frequency == pytest.approx(frequency, abs=0.1)
    # growth rates printed for 170 Hz
    for pressure, rate in ((1500.0, -1.763), (1700.0, 3.313)):
        assert growth(pipe, dry, lips, 170.0, pressure, 193.0)[0] == pytest.approx(rate, abs=0.05)


def test_notes_grow_and_take_air_as_published(thresholds):
    # 11 to 19 dB a doubling of mouth pressure from 1.2 to 3 times threshold (Fletcher and
    # Tarnopolsky); mean flow 0.18-0.63 L/s from mf to ff, peak up to 0.95 (V. Freour, R. Causse
    # and C. Cossette, 2010), soft notes below 0.2.  Measured 17.6, 16.7, 14.4, 13.2 dB; 0.12,
    # 0.25, 0.45 L/s; all figures by tests/reference/calibration.py
    from reference.calibration import held

    from lipmodel.sound.listener import radiation_filter

    trumpet = horn()
    response = radiation_filter(TRUMPET, AIR, RATE, 1.0, 0.0)
    for partial in (2, 3, 4):
        peak = PEAKS[partial - 1][1]
        found = threshold(TRUMPET, AIR, SMALL, 0.84 * peak, peak)
        low, high = (
            held(trumpet, found.tension, x * found.pressure, response)[0] for x in (1.2, 3.0)
        )
        growing = 20 * np.log10(high / low) / np.log2(3.0 / 1.2)
        assert 11 < growing < 19, partial
    player = horn(lips=replace(SMALL, firm=True))
    soft, medium, loud = (
        held(player, 0.9 * peak, SMALL.breath(dynamic, peak), response)[2:]
        for dynamic in ("pp", "mf", "ff")
    )
    assert soft[0] < 0.2
    assert 0.18 < medium[0] < loud[0] < 0.63
    assert loud[1] < 0.95


def test_thresholds_take_warm_breath_too():
    from lipmodel.air import AirColumn

    column = AirColumn.breath(Air.at(22.0))
    peak = [r.frequency for r in resonances(TRUMPET, column)][3]
    found = threshold(TRUMPET, column, SMALL, 0.8 * peak, peak)
    # lighter air at the lips and a sharper column: within 5 % of room air
    room = threshold(TRUMPET, AIR, SMALL, 0.8 * PEAKS[3][1], PEAKS[3][1])
    assert found.pressure == pytest.approx(room.pressure, rel=0.05)
    assert found.frequency > 460
