"""Heat that feeds a resonance, against the closed form."""

import pytest
from support.music import AIR
from support.pipe import PIPE, closed_form, heat_of

from lipmodel.acoustics.open_pipe import natural_frequencies
from lipmodel.acoustics.thermoacoustic import rayleigh


def test_the_theory_of_the_report_is_the_closed_form():
    modes = natural_frequencies(PIPE, AIR)[:4]
    heat = heat_of(4.0, 0.8e-3)
    found = rayleigh(PIPE, AIR, modes, 0.2, heat.top * heat.gain, heat.lag)
    for g, told in zip(found, closed_form(0.2, 0.8e-3, 4.0, modes), strict=True):
        # measured 5.1 of 49 /s: with losses pressure and motion are not quite a quarter of a
        # period apart
        assert g.fed == pytest.approx(told.fed, abs=7.0)
        assert g.lost == pytest.approx(told.lost)
