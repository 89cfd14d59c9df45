"""Echoes of one click: when they arrive, and what sends them."""

import numpy as np
import pytest
from support.bores import random_bore
from support.music import RATE

from lipmodel.acoustics.bell import bell, bell_start
from lipmodel.acoustics.losses import propagation
from lipmodel.acoustics.reflection import reflection_function
from lipmodel.air import Air
from lipmodel.bore.assembly import to_bore
from lipmodel.bore.geometry import Bore
from lipmodel.bore.instruments import spec
from lipmodel.studies.echo import arrival, bell_delay, marks, returns, wall_delay
from lipmodel.waveguide.impulse_response import waveguide_reflection

ROOM = Air.at(22.0)
TRUMPET = to_bore(spec("trumpet"))


def group_delay(answer, first, last, frequency):
    """-dphi/dw in s of what lies between two moments (s) of an answer in time."""
    at = np.arange(int(first * RATE), int(last * RATE))

    def spectrum(f):
        return np.sum(answer[at] * np.exp(-2j * np.pi * f * at / RATE))

    return -np.angle(spectrum(frequency + 1) / spectrum(frequency - 1)) / (4 * np.pi)


@pytest.fixture(scope="module")
def stepped():
    bore = Bore([0, 0.5, 0.5, 1.3], [6e-3, 6e-3, 8e-3, 8e-3])
    return bore, waveguide_reflection(bore, ROOM, RATE, 1024)


def test_the_way_there_and_back_is_2x_over_c_and_what_walls_slow_down():
    bore = Bore([0, 0.8], [6e-3, 6e-3])
    for f in (200.0, 1000.0):
        w = 2 * np.pi * np.array([f - 1, f + 1])
        slope = np.diff(propagation(6e-3, w, ROOM)[0].imag)[0] / np.diff(w)[0]
        found = arrival(bore, ROOM, 0.8, f)
        assert found == pytest.approx(1.6 * slope, rel=1e-9)
        assert 1.6 / ROOM.sound_speed < found < 1.02 * 1.6 / ROOM.sound_speed


@pytest.mark.parametrize("frequency", [500.0, 1000.0, 2000.0])
def test_a_step_sends_its_echo_at_its_time(stepped, frequency):
    # alone in time: the step's echo is over long before the end's; measured 0.006 ms
    bore, answer = stepped
    expected = arrival(bore, ROOM, 0.5, frequency)
    assert group_delay(answer, 1.8e-3, 6e-3, frequency) == pytest.approx(expected, abs=1e-4)


@pytest.mark.parametrize("frequency", [500.0, 1000.0, 2000.0])
def test_an_open_end_sends_its_echo_at_its_time(stepped, frequency):
    # measured 0.025 ms late: the end correction, 0.61 radii there and back
    bore, answer = stepped
    expected = arrival(bore, ROOM, 1.3, frequency)
    found = group_delay(answer, 6.5e-3, 9.5e-3, frequency)
    assert found == pytest.approx(expected, abs=1e-4)
    assert found > expected


def straight_on(bore, x):
    """The bore up to x, then going on at the slope it has there for 0.4 m, then a cylinder."""
    before = bore.x < x - 1e-9
    at, last = bore.x[before][-1], bore.radius[before][-1]
    here = np.interp(x, bore.x, bore.radius)
    slope = (here - last) / (x - at)
    far = here + 0.4 * slope
    return Bore(
        np.concatenate([bore.x[before], [x, x + 0.4, x + 4.0]]),
        np.concatenate([bore.radius[before], [here, far, far]]),
    )


@pytest.mark.parametrize("number", range(1, 5))
def test_the_trumpets_sections_send_their_echoes_at_their_times(number):
    # a change of slope reflects as 1/jw: a step in time.  What it sends back is the difference
    # from the same bore that goes straight on; its steepest moment is its arrival.  In the
    # frequency domain: such an echo is 0.05 to 0.6 % of the click, and two ladders fitted apart
    # differ by as much.  Measured 0.02 to 0.04 ms; left out is the start of the last section,
    # where the slope changes by a twelfth only and the flare's own echo drowns the corner's
    place = TRUMPET.sections[number].start
    size = int(0.08 * RATE)
    answers = [
        reflection_function(b, ROOM, RATE, size) for b in (TRUMPET, straight_on(TRUMPET, place))
    ]
    click = np.hanning(21)
    change = np.gradient(np.convolve(answers[0] - answers[1], click / click.sum(), "same"))
    expected = float(arrival(TRUMPET, ROOM, place))
    near = np.arange(int((expected - 3e-4) * RATE), int((expected + 4e-4) * RATE))
    found = near[np.argmax(np.abs(change[near]))] / RATE
    assert found == pytest.approx(expected, abs=1e-4)


@pytest.mark.parametrize("frequency", [230.0, 460.0, 920.0])
def test_the_ladders_bell_answers_with_the_group_delay_of_its_reflectance(frequency):
    flare = bell(TRUMPET)
    answer = waveguide_reflection(flare, ROOM, RATE, 2048)
    found = group_delay(answer, 0.0, 2000 / RATE, frequency)
    assert found == pytest.approx(bell_delay(TRUMPET, ROOM, frequency)[0], abs=1e-4)


def test_a_bell_is_not_a_place_and_an_open_end_is():
    frequency = np.array([150.0, 230.0, 460.0, 690.0, 1150.0])
    deep = wall_delay(TRUMPET, ROOM, frequency)
    rim = 2 * (TRUMPET.length - bell_start(TRUMPET)) / ROOM.sound_speed
    # low notes turn earlier: measured 2.3 to 3.7 ms, the rim at 3.8
    assert np.all(np.diff(deep) > 0)
    assert deep[0] < 0.65 * rim < deep[-1] < 1.05 * rim
    pipe = Bore([0, 1.0], [6e-3, 6e-3])
    plain = wall_delay(pipe, ROOM, frequency)
    assert np.ptp(plain) < 1e-5
    # the delays that belong to the resonances: there and back to a wall and a closed lip end
    rows = returns(TRUMPET, ROOM)
    assert [r["n"] for r in rows] == [2, 4, 6]
    assert np.all(np.diff([r["time_s"] for r in rows]) > 0)


def test_marks_are_in_order_and_name_the_trumpets_parts():
    rows = marks(TRUMPET, ROOM)
    assert [r["name"] for r in rows] == [
        "throat",
        "leadpipe begins",
        "cylinder begins",
        "bell begins",
    ]
    assert np.all(np.diff([r["time_s"] for r in rows]) > 0)
    bore = random_bore(5)
    told = [r["x_m"] for r in marks(bore, ROOM)]
    large = [x for x, a, b in bore.steps if abs(np.log(b / a)) > 0.02]
    assert told == large
