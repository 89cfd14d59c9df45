"""The wave along the tube and the power through it, against closed forms."""

import numpy as np
import pytest
from support.bores import random_bore
from support.music import AIR

from lipmodel.acoustics.field import field, places, power_per_flow, turns
from lipmodel.acoustics.impedance import impedance
from lipmodel.bore.geometry import Bore


def test_most_power_through_a_short_wide_pipe_is_radiated():
    pipe = Bore([0, 0.05], [0.02, 0.02])
    into, out = power_per_flow(pipe, AIR, np.array([800.0, 1500.0, 2500.0]))
    assert np.all(out < into)
    # measured 0.89, 0.96 and 0.98
    assert np.all(out > 0.8 * into)
    assert not power_per_flow(pipe.replaced_end("closed"), AIR, [500.0])[1].any()
    with pytest.raises(ValueError, match="above 0 Hz"):
        power_per_flow(pipe, AIR, [0.0])


@pytest.mark.parametrize("n", [1, 2, 3, 5])
def test_an_ideal_cylinder_has_its_nodes_where_the_formula_says(n):
    # closed at the lips, pressure zero at the end: p = cos(kx), nodes at (2m-1)/(2n-1) L from the
    # closed end (the last one is the end itself), antinodes at 2m/(2n-1) L: textbook
    length = 1.4
    bore = Bore([0, length], [5.83e-3] * 2, end="node")
    frequency = (2 * n - 1) * AIR.sound_speed / (4 * length)
    antinodes, nodes = turns(bore, AIR, frequency, wall_loss=False)
    odd = np.arange(1, 2 * n - 1, 2) / (2 * n - 1) * length
    even = np.arange(2, 2 * n - 1, 2) / (2 * n - 1) * length
    # measured 3e-13
    np.testing.assert_allclose(nodes, odd, atol=1e-9 * length)
    np.testing.assert_allclose(antinodes, even, atol=1e-9 * length)


def test_the_field_of_a_lossless_cylinder_is_a_cosine():
    bore = Bore([0, 0.9], [7e-3] * 2, end="node")
    x, f = np.linspace(0, 0.9, 31), np.array([313.0])
    k, zc = 2 * np.pi * f[0] / AIR.sound_speed, AIR.impedance(np.pi * 7e-3**2)
    wave = field(bore, AIR, f, x, pressure=np.array([2.0]), wall_loss=False)
    expected = 2 * np.sin(k * (0.9 - x)) / np.sin(k * 0.9)
    np.testing.assert_allclose(wave.pressure[0], expected, atol=1e-9)
    flow = -2j * np.cos(k * (0.9 - x)) / np.sin(k * 0.9) / zc
    np.testing.assert_allclose(wave.flow[0], flow, atol=1e-9 / zc)


def test_the_field_of_a_lossless_cone_is_a_spherical_wave():
    # p r = sin(k (L - x)) with r linear: textbook
    bore = Bore([0, 0.7], [5e-3, 40e-3], end="node")
    x, f = np.linspace(0, 0.7, 29), np.array([420.0])
    k = 2 * np.pi * f[0] / AIR.sound_speed
    wave = field(bore, AIR, f, x, pressure=np.ones(1), wall_loss=False, wavefront="plane")
    expected = 5e-3 / bore.radius_at(x) * np.sin(k * (0.7 - x)) / np.sin(k * 0.7)
    np.testing.assert_allclose(wave.pressure[0], expected, atol=1e-9)


@pytest.mark.parametrize("seed", range(4))
def test_at_the_lips_the_field_is_the_impedance_and_flow_is_kept_everywhere(seed):
    bore = random_bore(seed)
    f = np.array([90.0, 415.0, 1300.0])
    wave = field(bore, AIR, f)
    np.testing.assert_allclose(wave.pressure[:, 0], impedance(bore, AIR, f), rtol=1e-9)
    np.testing.assert_allclose(wave.flow[:, 0], 1, rtol=1e-12)
    # across a sudden step pressure goes on: 2e-9 m change it by 1.4e-5 at the most (measured)
    for place, *_ in bore.steps:
        # plane fronts: before a cap stands a plug of air at the very place of the step
        both = field(bore, AIR, f, [place - 1e-9, place + 1e-9], wavefront="plane")
        scale = np.abs(both.pressure).max(axis=1)
        assert np.all(np.abs(np.diff(both.pressure)[:, 0]) < 1e-4 * scale)


def test_places_outside_of_the_bore_are_refused():
    bore = Bore([0, 0.5], [6e-3, 6e-3])
    with pytest.raises(ValueError, match=r"from 0 to 0\.5 m"):
        field(bore, AIR, 200.0, [0.6])
    with pytest.raises(ValueError, match="above 0 Hz"):
        field(bore, AIR, 0.0)
    x = places(bore)
    assert (len(x), x[0], x[-1]) == (400, 0.0, 0.5)
