"""The lip settings that a map and a sweep cover."""

import pytest

from lipmodel.player.playable_range import BARE_RANGE, playable_range


def test_from_below_the_second_resonance_to_above_the_last_under_a_kilohertz():
    trumpet = [87, 230, 345, 460, 576, 694, 801, 915, 1034]
    assert playable_range(trumpet) == pytest.approx((0.6 * 230, 1.15 * 915))
    horn = [30 + 43.5 * n for n in range(30)]  # past the eighth: a horn is played up there
    assert playable_range(horn) == pytest.approx((0.6 * 73.5, 1.15 * 987))


def test_a_bore_of_one_resonance_or_of_none():
    assert playable_range([711]) == pytest.approx((1.15 * 711 / 4, 1.15 * 711))  # two octaves
    assert playable_range([1500])[1] == pytest.approx(1.15 * 1500)
    assert playable_range([5000]) == (500, 2000)  # the highest setting that a scene takes
    assert playable_range([]) == BARE_RANGE
