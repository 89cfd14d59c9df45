"""Resonances of built-in instruments and teaching bores against what is published of their kind."""

import numpy as np
import pytest
from support.bores import exact_peaks
from support.built_in import off, peaks, series
from support.music import AIR

from lipmodel.acoustics.impedance import impedance
from lipmodel.acoustics.resonances import resonances
from lipmodel.air import Air
from lipmodel.bore import instruments
from lipmodel.bore.assembly import to_bore
from lipmodel.bore.geometry import Bore
from lipmodel.bore.parts import without_part
from lipmodel.units import cents

DRY = Air.at(20.0, 0.0, co2=0.0004)


def test_the_trumpet_lies_near_multiples_of_its_note():
    """Acoustics Today, Summer 2021, p. 15 (Campbell, Gilbert and Myers): multiples of 116.5 Hz,
    all but the first, which is far too low: 350 to 750 cents, the width from memory."""
    found = peaks("trumpet")
    assert np.max(np.abs(off(found[1:10], np.arange(2, 11) * 116.5))) < 35
    assert -750 < cents(found[0], 116.5) < -350


def test_the_first_resonance_of_the_trombone_is_far_flat():
    """36 to 42 Hz against 58.3 Hz; J. Gilbert and others, from memory."""
    assert 36 < peaks("trombone")[0] < 42


def mouthpiece_of(name):
    spec = instruments.spec(name)
    return to_bore(
        spec.model_copy(update={"section": spec.section[:1], "valves": type(spec.valves)()})
    )


@pytest.mark.parametrize(("name", "low", "high"), [("trumpet", 700, 900), ("trombone", 500, 600)])
def test_a_mouthpiece_alone_resonates_where_it_is_published(name, low, high):
    """Of the order of 800 Hz (abstract on the trumpet mouthpiece's influence on the input
    impedance); about 550 Hz (P. LoPresto, Mouthpiece and Bell Effects on Trombone Resonance)."""
    assert low < resonances(mouthpiece_of(name), AIR)[0].frequency < high


def test_the_mouthpiece_raises_the_peaks_near_its_resonance_three_to_six_times():
    """Abstract of "Influence of the trumpet mouthpiece on the input impedance"."""
    spec = instruments.spec("trumpet")
    whole = resonances(to_bore(spec), AIR)
    bare = resonances(to_bore(without_part(spec, "mouthpiece")), AIR)
    near = [r.magnitude for r in whole if 650 < r.frequency < 850]
    without = [r.magnitude for r in bare if 650 < r.frequency < 850]
    assert 20e6 < np.mean(without) < 40e6  # 20 to 30 MPa s/m3 published
    assert 3 < np.mean(near) / np.mean(without) < 6


def test_a_mouthpiece_is_as_long_as_its_volume_at_low_frequency():
    """Benade: at low frequency a closed mouthpiece adds V/S to a tube of cross-section S."""
    cup = mouthpiece_of("trumpet")
    shut = Bore(cup.x[::-1].max() - cup.x[::-1], cup.radius[::-1], end="closed")
    frequency = 20.0
    area = np.pi * shut.radius[0] ** 2
    z = impedance(shut, DRY, np.array([frequency]), wall_loss=False, wavefront="plane")[0]
    k = 2 * np.pi * frequency / DRY.sound_speed
    length = np.arctan2(1.0, -np.imag(z) * area / (DRY.density * DRY.sound_speed)) / k
    # 20 Hz is 1/40 of its resonance: (1/40)^2 = 0.06 % off
    assert length == pytest.approx(cup.volume / area, rel=2e-3)


def tube(length, radius, bell):
    """A plain tube whose last 0.56 m may be a bell to 122 mm."""
    if not bell:
        return Bore([0, length], [radius, radius])
    from lipmodel.bore import shapes

    x, r = shapes.bessel(0.56, radius, 61e-3, 0.6)
    return Bore(np.r_[0, length - 0.56 + x], np.r_[radius, r])


def test_a_bell_raises_the_low_modes_most():
    """B. Holmes, lecture notes: of a 1.41 m tube, played, modes 2 to 4 rise by 40, 30, 21 Hz."""
    plain = [r.frequency for r in resonances(tube(1.41, 5.83e-3, False), AIR)]
    belled = [r.frequency for r in resonances(tube(1.41, 5.83e-3, True), AIR)]
    rise = np.subtract(belled[1:4], plain[1:4])
    assert np.all((rise > 20) & (rise < 45))
    assert np.all(np.diff(rise) < 0)


def test_a_closed_cylinder_has_the_odd_multiples_and_a_whole_cone_all():
    cylinder = np.array(exact_peaks(Bore([0, 1.4], [6e-3, 6e-3]), DRY, 4))
    assert np.max(np.abs(off(cylinder[:4], cylinder[0] * np.array([1, 3, 5, 7])))) < 1
    # a cone cut 14 mm from its apex, one hundredth of its length: complete within 0.1 cent
    cone = np.array(exact_peaks(Bore([0, 1.4], [0.6e-3, 60e-3]), DRY, 4))
    apex = 1.4 / 0.99
    assert np.max(np.abs(off(cone, DRY.sound_speed / (2 * apex) * np.arange(1, 5)))) < 1
    assert cents(cylinder[0], DRY.sound_speed / (4 * 1.4)) == pytest.approx(0, abs=0.1)


TRUNCATED = {  # tan kL = -k x1: kL/pi by ratio of the radii, recomputed from the equation
    0.05: (0.95039, 1.90297, 2.85942, 3.82066),
    0.10: (0.90282, 1.81986, 2.75615, 3.70933),
    0.20: (0.81819, 1.70424, 2.64290, 3.60799),
    0.50: (0.64577, 1.56391, 2.53969, 3.52864),
}


@pytest.mark.parametrize(("ratio", "roots"), TRUNCATED.items())
def test_a_truncated_cone_has_the_roots_of_its_equation(ratio, roots):
    length = 1.35
    found = exact_peaks(Bore([0, length], [50e-3 * ratio, 50e-3]), DRY, 4)
    expected = np.array(roots) * DRY.sound_speed / (2 * length)
    assert np.max(np.abs(off(found[:4], expected))) < 0.2


def test_the_family_goes_from_odd_towards_all_multiples():
    """With losses, the open end and a mouthpiece the multiples are only near; the ratio of the
    second resonance to the first falls from nearly 3 towards 2 as the cone grows."""
    ratios = []
    for share in (0, 25, 50, 75, 100):
        found = peaks(f"conical_{share}")
        ratios.append(found[1] / found[0])
        bore = to_bore(instruments.spec(f"conical_{share}"))
        assert bore.length - bore.sections[0].end == pytest.approx(1.3)
    assert 2.85 < ratios[0] < 3.1
    assert 1.9 < ratios[-1] < 2.2
    assert ratios[-1] < min(ratios[:-2])


def test_dry_air_moves_the_trumpet_by_the_published_cents_a_degree():
    """600/(ln 2 T) = 2.953 cents a degree at 20 degrees C in dry air; 3.14 at 50 % humidity,
    where warmer air of the same relative humidity holds more water (IEC 61094-2:2009 Annex F).
    Wall losses take off a little: they grow with the warmth."""
    for humidity, expected, within in ((0.0, 2.953, 0.01), (0.5, 3.14, 0.02)):
        speed = [Air.at(t, humidity).sound_speed for t in (19.5, 20.5)]
        assert cents(speed[1], speed[0]) == pytest.approx(expected, abs=within)
    moved = off(peaks("trumpet", Air.at(20.5, 0.0))[1:8], peaks("trumpet", Air.at(19.5, 0.0))[1:8])
    assert np.all((moved > 2.84) & (moved < 2.95))


def test_wrong_bells_put_the_trumpet_out_of_tune():
    right = np.ptp(series(peaks("trumpet"), 8)[1])
    for name in ("trumpet_no_bell", "trumpet_gradual_bell", "trumpet_late_bell"):
        assert np.ptp(series(peaks(name), 8)[1]) > 1.5 * right
