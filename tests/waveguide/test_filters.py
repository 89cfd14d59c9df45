"""Filters of the ladder against the textbook."""

import numpy as np
import pytest

from lipmodel.waveguide.filters import delay_response, thiran


def test_a_thiran_delay_has_the_textbook_coefficient():
    # a = (1 - D)/(1 + D): -0.130435 at 1.3 (formula from memory)
    assert thiran(1.3)[1] == pytest.approx(-0.130435, abs=1e-6)
    assert thiran(7.3) == (6, pytest.approx(-0.130435, abs=1e-6))
    omega = np.linspace(1e-3, 3.0, 50)
    np.testing.assert_allclose(np.abs(delay_response(7.3, omega)), 1, rtol=1e-12)
    slow = np.array([1e-3])
    np.testing.assert_allclose(-np.angle(delay_response(7.3, slow)) / slow, 7.3, rtol=1e-6)
