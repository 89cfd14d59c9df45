"""Brassiness of a cylinder and a cone, by hand."""

import numpy as np
import pytest

from lipmodel.acoustics.brassiness import brassiness
from lipmodel.bore.geometry import Bore

# --- brassiness ------------------------------------------------------------------------------


def test_brassiness_of_a_cylinder_and_a_cone_by_hand():
    # A. Myers, R. W. Pyle, J. Gilbert and D. M. Campbell (2010), eq. 1: a cone from 10 to 100 mm
    # has ln(10)/9 = 0.2558
    assert brassiness(Bore.from_points([0, 1.4], [6e-3, 6e-3])) == pytest.approx(1.0, abs=1e-9)
    cone = Bore.from_points([0, 1.3], [5e-3, 50e-3])
    assert brassiness(cone) == pytest.approx(np.log(10) / 9, abs=1e-4)
