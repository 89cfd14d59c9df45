"""The way from the mouthpiece to the open end: where a tone breaks, and what a bore counts for."""

import numpy as np
import pytest
from support.music import AIR
from support.steepened import RATE, STRONG, TONE

from lipmodel.acoustics.losses import propagation
from lipmodel.air import Air
from lipmodel.bore.geometry import Bore
from lipmodel.sound import passage
from lipmodel.waveguide.fit import build_ladder

# the air of the published example: g = 1.4, P0 = 101325 Pa, c = 343.2 m/s; rho c^2 = g P0
TEXTBOOK = Air(343.2, 1.4 * 101325 / 343.2**2, 1.81e-5, 1.4, 0.71)


def test_a_loud_tone_breaks_where_the_books_say():
    # A. Hirschberg, J. Gilbert, R. Msallam and A. P. J. Wijnands (1996): 2 g P0 c/((g+1) dp/dt);
    # 2.770 m for 10 kPa at 233.08 Hz in this air
    rise = passage.rise_per_metre(TEXTBOOK)
    found = passage.shock_distance(rise, 2 * np.pi * TONE * STRONG)
    assert found == pytest.approx(2.770, rel=0.01)
    assert passage.shock_distance(rise, 0.0) == np.inf


@pytest.mark.parametrize(
    ("radii", "share"), [((6e-3, 6e-3), 1.0), ((5e-3, 50e-3), np.log(10) / 9)], ids=["tube", "cone"]
)
def test_a_bore_steepens_as_a_cylinder_of_its_equivalent_length(radii, share):
    # by hand: the integral of D0/D(x); of the cone, measured 4e-4 more
    bore = Bore.from_points([0, 1.3], radii)
    way = passage.passage(build_ladder(bore, AIR, RATE), bore, AIR)
    assert way.delay / way.rise == pytest.approx(1.3 * share, rel=1e-3)
    # the losses that the steps take are those of the tube: Kirchhoff's at 1 kHz, straight
    if share == 1.0:
        omega = 2 * np.pi * 1000.0
        loss = propagation(6e-3, np.array([omega]), AIR)[0][0].real * 1.3
        taken = np.abs(passage._averages(way.weight, np.array([1000.0]), RATE))[0]
        assert -np.log(taken) == pytest.approx(loss, rel=0.01)  # measured 0.2 %
