"""The lip valve: its laws and its players."""

from dataclasses import replace

import numpy as np
import pytest

from lipmodel.lips import DYNAMICS, LARGE, LOUDEST_EXPONENT, PLAYERS, SMALL


def test_laws_follow_tension_as_documented():
    quality = SMALL.quality_at(np.array([100.0, 233.0, 932.0, 3000.0]))
    np.testing.assert_allclose(quality, 3 * np.array([1, 1, 2, (1600 / 233) ** 0.5]), rtol=1e-12)


def test_markings_are_ordered_and_grow_more_slowly_than_the_pressure_at_which_notes_begin():
    low, high = ([SMALL.breath(d, f) for d in DYNAMICS] for f in (233.08, 932.33))
    assert np.all(np.diff(low) > 0)
    assert np.all(np.diff(high) > 0)
    begins = SMALL.threshold_per_hz * np.array([233.08, 932.33])
    assert [low[0], high[0]] == pytest.approx(1.1 * begins)
    # ours; players' pressures at one marking are said to grow more slowly still (from memory)
    assert high[-1] / low[-1] == pytest.approx(4 ** (1 - LOUDEST_EXPONENT), rel=1e-4)
    assert high[-1] < 25e3  # the highest published


def test_players_are_who_they_should_be():
    assert PLAYERS == {"small": SMALL, "large": LARGE}
    assert LARGE.width > SMALL.width
    with pytest.raises(ValueError, match="motion"):
        replace(SMALL, motion="sideways")
