"""A tube that is slapped rings at its own peaks."""

import numpy as np
import pytest
from support.music import AIR, RATE, cents
from support.pipe import BORES, ladder, own_peaks, slap

from lipmodel.acoustics.open_pipe import natural_frequencies
from lipmodel.analysis.peaks import peak_near, spectrum
from lipmodel.waveguide.source_loop import drive, tube


@pytest.mark.parametrize("name", BORES)
def test_a_slapped_tube_rings_at_its_own_peaks(name):
    bore, made = ladder(name)
    driven = drive(tube(made, bore, AIR, 0.0), slap(int(3 * RATE)))
    frequency, size = spectrum(driven.lip_pressure, RATE)
    found = [peak_near(frequency, size, f) for f in own_peaks(name)]
    # measured 0.94 cent (trumpet, first peak): the slap's own spectrum falls a little across it
    assert np.max(np.abs(cents(np.array(found), own_peaks(name)))) < 3.0


def test_an_open_pipe_rings_in_time_as_it_does_in_frequency():
    bore, made = ladder("open pipe")
    driven = drive(tube(made, bore, AIR, 0.11, "open"), slap(int(RATE)))
    frequency, size = spectrum(driven.source_pressure, RATE)
    for r in natural_frequencies(bore, AIR)[:5]:
        # measured 2.4 cents: a peak of a driven answer is not quite the free ringing
        assert abs(cents(peak_near(frequency, size, r.frequency), r.frequency)) < 4.0
