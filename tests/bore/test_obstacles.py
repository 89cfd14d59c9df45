"""Mutes and hands in the bell: geometry, and what it does to the resonances."""

import numpy as np
import pytest

from lipmodel.bore import instruments
from lipmodel.bore.obstacles import with_hand, with_mute
from lipmodel.bore.parts import with_obstacle
from lipmodel.errors import SceneError

BELL_X = np.linspace(0, 0.5, 501)
BELL = 6e-3 * (60 / 6) ** (BELL_X / 0.5)


def ring(radius, inner):
    return np.sqrt(radius**2 - inner**2)


def test_a_mute_is_pushed_in_until_its_corks_touch():
    length, small, large, gap = 0.12, 12e-3, 40e-3, 2e-3
    x, radius = with_mute(BELL_X, BELL, length, small, large, gap)
    before = np.interp(x, BELL_X, BELL)
    inside = radius < before - 1e-9
    start = x[inside][0]
    inside &= x <= start + length
    cone = small + (large - small) * (x[inside] - start) / length
    # what is left is a ring, and the narrowest gap is the cork
    np.testing.assert_allclose(radius[inside], ring(before[inside], cone), rtol=1e-9)
    assert np.min(before[inside] - cone) == pytest.approx(gap, abs=2e-5)
    assert np.all(np.diff(x) >= 0)
    np.testing.assert_array_equal(radius[x < start], BELL[start > BELL_X])


def test_thicker_corks_leave_the_mute_further_out():
    starts = []
    for gap in (1e-3, 2e-3, 4e-3):
        x, radius = with_mute(BELL_X, BELL, 0.12, 12e-3, 40e-3, gap)
        starts.append(x[radius < np.interp(x, BELL_X, BELL) - 1e-9][0])
    assert starts == sorted(starts)
    assert starts[0] < starts[-1]


def test_a_hand_leaves_the_share_of_the_area_that_it_says():
    x, radius = with_hand(BELL_X, BELL, 0.4, 0.07, 0.1)
    share = (radius / np.interp(x, BELL_X, BELL)) ** 2
    assert share.min() == pytest.approx(0.4, abs=2e-3)  # between two points of 60
    assert x[np.argmin(share)] == pytest.approx(0.43, abs=1e-3)
    assert np.all(share[(x < 0.38) | (x > 0.48)] == 1)


REFUSED = {
    "too wide": ("mute", {"small_diameter_mm": 130.0, "large_diameter_mm": 140.0}, "does not go"),
    "slips": (
        "mute",
        {"small_diameter_mm": 1.0, "large_diameter_mm": 1.0, "cork_mm": 0.2},
        "slips through",
    ),
}


@pytest.mark.parametrize("row", REFUSED.values(), ids=REFUSED)
def test_what_does_not_fit_is_refused(row):
    kind, table, told = row
    with pytest.raises(SceneError, match=told):
        with_obstacle(instruments.spec("trumpet"), kind, table)


def test_a_hand_longer_than_the_bore_is_refused():
    with pytest.raises(SceneError, match="reaches beyond the bore"):
        with_hand([0.0, 0.1], np.array([5e-3, 5e-3]), 0.5, 0.05, 0.2)
