"""The throat's loss leaves the growth of loud notes as it was."""

from dataclasses import replace

import numpy as np
import pytest
from support import throat
from support.horns import TRUMPET
from support.music import AIR, RATE

from lipmodel.sound.listener import radiated, radiation_filter
from lipmodel.waveguide.time_loop import play

horn = throat.horn  # the same fixture


def growth(horn, setting, least, response):
    """dB a doubling of the mouth pressure from 3 to 4 times the threshold."""
    level = []
    for times in (3, 4):
        n = int(1.0 * RATE)
        mouth = times * least * np.minimum(np.arange(n) / 960, 1)
        played = play(horn, mouth, np.full(n, setting))
        heard = radiated(played.out_wave, played.back_wave, horn.ladder.admittance[-1], response)
        level.append(20 * np.log10(heard[-int(0.4 * RATE) :].std()))
    return (level[1] - level[0]) / np.log2(4 / 3)


def test_the_throat_alone_does_not_saturate_loud_notes(horn):
    """Published: towards 3 dB a doubling at saturation (Fletcher and Tarnopolsky 1999).  The loss
    takes 0.5 to 0.9 dB off a loud note and leaves its growth where it was."""
    response = radiation_filter(TRUMPET, AIR, RATE, 1.0, 0.0)
    found = [growth(replace(horn, throat_loss=on), 420.0, 3.76e3, response) for on in (True, False)]
    # measured 5.9 and 5.7
    assert found == pytest.approx([6.0, 6.0], abs=1.0)
