"""Cents as a sum of causes: valves together, published figures, ordinals."""

import numpy as np
import pytest
from support.built_in import off, peaks

from lipmodel.studies.causes import combination_sharpness, ordinal

COMBINATIONS = {"12": 10.63, "23": 15.53, "13": 30.32, "123": 53.56}  # 2^(s/12) - 1 summed
LONG_THIRD = {"2": -0.9, "1": -1.7, "12": 8.2, "23": -0.1, "13": 14.7, "123": 37.9}


def test_valves_are_a_compromise_as_makers_choose_it():
    """An article on valve-combination tuning gives, for a trumpet with a long third slide, the
    second line's figures; ours are means over partials 2 to 8, from the open tube."""
    for valves, exact in COMBINATIONS.items():
        assert combination_sharpness(valves) == pytest.approx(exact, abs=0.1)
    open_tube = peaks("trumpet")[1:8]
    lowers = {"2": 1, "1": 2, "12": 3, "23": 4, "13": 5, "123": 6}
    for valves, published in LONG_THIRD.items():
        sharp = np.mean(off(peaks("trumpet", valves=valves)[1:8], open_tube)) + 100 * lowers[valves]
        assert sharp == pytest.approx(published, abs=8), valves


# the sum


def test_valves_that_are_right_alone_are_sharp_together_as_published():
    # the table of an article on valve-combination tuning; 2^(s/12) sums give it to 0.01
    figures = {"12": 10.63, "23": 15.53, "13": 30.32, "123": 53.56}
    for valves, expected in figures.items():
        assert combination_sharpness(valves) == pytest.approx(expected, abs=0.01)
    for one in ("0", "1", "2", "3", "4"):
        assert combination_sharpness(one) == pytest.approx(0, abs=1e-9)


def test_partials_are_numbered_as_they_are_spoken():
    assert [ordinal(n) for n in (1, 2, 3, 4, 11, 12)] == ["1st", "2nd", "3rd", "4th", "11th",
                                                          "12th"]  # fmt: skip
