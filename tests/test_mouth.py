"""The air upstream of the lips, by closed forms."""

import numpy as np
import pytest

from lipmodel.mouth import TWO_TUBES, Mouth, vowel


@pytest.mark.parametrize(
    ("mouth", "z0", "r"),
    [
        # sqrt(M/C) = peak/Q, R = sqrt(M/C)/Q; 1/(w C) with a cavity; Q = sqrt(M/C)/R
        (Mouth(750.0), 2.5e6, 2.5e6 / 6),
        (Mouth(500.0, 12e6, None, None, 0.75e6), 3e6, 0.75e6),
        (Mouth(400.0, None, 1e-10, 5.0), 1 / (2 * np.pi * 4e-8), 1 / (2 * np.pi * 20e-8)),
        (Mouth(400.0, None, 1e-10, None, 3e5), 1 / (2 * np.pi * 4e-8), 3e5),
    ],
)
def test_two_numbers_give_the_rest(mouth, z0, r):
    assert mouth.parts() == pytest.approx((z0, r), rel=1e-12)


def test_its_impedance_is_that_of_cavity_and_channel():
    mouth, f = Mouth(750.0), np.array([0.0, 90.0, 750.0, 2100.0])
    z0, r = mouth.parts()
    m, c = z0 / (2 * np.pi * 750), 1 / (2 * np.pi * 750 * z0)
    s = 2j * np.pi * f
    np.testing.assert_allclose(
        mouth.impedance(s), 1 / (s * c + 1 / (r + s * m)), rtol=1e-12, atol=0
    )


@pytest.mark.parametrize("more", [{"peak": 1e6, "compliance": 1e-10}, {"quality": None}])
def test_two_of_one_kind_or_none_are_refused(more):
    with pytest.raises(ValueError, match="Mouth: expected either"):
        Mouth(500.0, **more)


@pytest.mark.parametrize("name", TWO_TUBES)
def test_a_vowel_is_its_two_tubes_near_the_lowest_peak(name):
    # the two tubes by their transfer matrices, closed at the lips and open to the lungs: where
    # the susceptance crosses zero, and its slope there (2 C of a circuit), by differences
    rho, c = 1.15, 350.0
    resonance, compliance = vowel(name, rho, c)

    def susceptance(f):
        k, whole = 2 * np.pi * f / c, np.eye(2, dtype=complex)
        for length, area in reversed(TWO_TUBES[name]):  # from the lips
            z, at = rho * c / area, k * length
            whole = whole @ [[np.cos(at), 1j * z * np.sin(at)], [1j * np.sin(at) / z, np.cos(at)]]
        return (whole[1, 1] / whole[0, 1]).imag  # pressure node at the lungs

    below = np.array([susceptance(f) for f in np.linspace(20, resonance - 1, 200)])
    assert np.all(below < 0)  # the lowest
    assert susceptance(resonance - 0.1) < 0 < susceptance(resonance + 0.1)
    slope = (susceptance(resonance + 0.1) - susceptance(resonance - 0.1)) / (0.4 * np.pi)
    assert slope / 2 == pytest.approx(compliance, rel=1e-5)  # differences over 0.2 Hz
    # "ah" is about the front tube's own 56 ml
    if name == "ah":
        assert compliance * rho * c * c == pytest.approx(56e-6, rel=0.03)


@pytest.mark.parametrize("rate", [22_050.0, 48_000.0])
def test_the_time_loops_law_resonates_where_it_should(rate):
    # at the resonance: the trapezoidal rule, s -> j tan(w dt/2)/(dt/2), with the parts moved so
    # that it is exact there
    mouth, zc = Mouth(1500.0), 1e7
    law = mouth.law(np.array([1500.0]), zc, rate)[:, 0]
    b, with_bore, one_over, from_c, bg, root_l, g, two_over, r = law
    cavity, channel = (2 / two_over) ** 2, root_l**2
    z0, resistance = mouth.parts()
    t = np.tan(np.pi * 1500.0 / rate)
    assert cavity / t == pytest.approx(z0, rel=1e-12)
    assert channel * t == pytest.approx(z0, rel=1e-12)
    assert (r, g) == pytest.approx((resistance, 1 / (resistance + channel)), rel=1e-12)
    assert b == pytest.approx(1 / (1 / cavity + g), rel=1e-12)
    known = (zc + b, 1 / (zc + b), b / np.sqrt(cavity), b * g)
    assert (with_bore, one_over, from_c, bg) == pytest.approx(known, rel=1e-12)
