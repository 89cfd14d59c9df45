"""The answer to one click against the filters, and on its own sample."""

import numpy as np
import pytest
from support.music import AIR, RATE

from lipmodel.bore import instruments
from lipmodel.bore.geometry import Bore
from lipmodel.waveguide.fit import build_ladder, ladder_reflectance
from lipmodel.waveguide.impulse_response import waveguide_reflection


@pytest.mark.parametrize("name", ["trumpet", "hailing_cone", "mouthpiece"])
def test_the_time_loop_answers_as_its_filters_say(name):
    bore = instruments.instrument(name)
    size = 32768
    answer = waveguide_reflection(bore, AIR, RATE, size)
    assert answer.sum() == pytest.approx(-1, abs=1e-8)
    frequency = np.fft.rfftfreq(size, 1 / RATE)[1:]
    expected = ladder_reflectance(build_ladder(bore, AIR, RATE), frequency)
    # below the last kilohertz, where the allpass rings longest: measured 1e-11
    low = frequency < 23_000
    np.testing.assert_allclose(np.fft.rfft(answer)[1:][low], expected[low], atol=1e-9)


def test_an_echo_comes_back_on_its_own_sample():
    # a lossless-looking test of indices: 60 samples of pipe, a node; the first answer is the
    # step to the first cell (none), the main one comes after twice the delay
    length = 60 / RATE * AIR.sound_speed
    answer = waveguide_reflection(Bore([0, length], [0.02, 0.02], end="node"), AIR, RATE, 400)
    assert np.argmax(np.abs(answer)) == 120
    assert answer[120] < -0.8
    assert np.abs(answer[:100]).max() < 0.05
