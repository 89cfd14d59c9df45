"""The lip valve: its laws and its players."""

from dataclasses import replace

import numpy as np
import pytest

from lipmodel.lips import LARGE, PLAYERS, SMALL


def test_laws_follow_tension_as_documented():
    quality, thickness = SMALL.law(np.array([100.0, 233.0, 932.0, 3000.0]))
    np.testing.assert_allclose(quality, 3 * np.array([1, 1, 2, (1600 / 233) ** 0.5]), rtol=1e-12)
    np.testing.assert_allclose(
        thickness, 2.3e-3 * np.array([1, 1, 4**-0.3, (1600 / 233) ** -0.3]), rtol=1e-12
    )


def test_players_are_who_they_should_be():
    assert PLAYERS == {"small": SMALL, "large": LARGE}
    assert LARGE.width > SMALL.width
    with pytest.raises(ValueError, match="motion"):
        replace(SMALL, motion="sideways")
