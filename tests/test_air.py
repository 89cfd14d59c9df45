"""Air against IEC 61094-2:2009 Annex F and CoolProp."""

import math

import numpy as np
import pytest
from CoolProp.CoolProp import HAPropsSI, PropsSI

from lipmodel.air import Air, AirColumn

# IEC 61094-2:2009, Table F.1: t (degrees C), humidity, Pa, then density kg/m3, sound speed m/s,
# heat ratio, viscosity Pa s, thermal diffusivity m2/s, as printed.
TABLE_F1 = {
    "set A": (
        23.0,
        0.50,
        101325.0,
        "1.1860848",
        "345.86652",
        "1.4007573",
        1.826566e-5,
        2.115317e-5,
    ),
    "set B": (20.0, 0.65, 80000.0, "0.9441589", "344.38267", "1.4000266", 1.811295e-5, 2.627024e-5),
}
# the table prints seven figures of viscosity and diffusivity: half a unit in the last place
LAST_PLACE = 0.5e-11


@pytest.mark.parametrize("row", TABLE_F1.values(), ids=TABLE_F1)
def test_air_gives_the_printed_numbers_of_the_standard(row):
    celsius, humidity, pascal, density, speed, ratio, viscosity, diffusion = row
    air = Air.at(celsius, humidity, pascal)
    assert f"{air.density:.7f}" == density
    assert f"{air.sound_speed:.5f}" == speed
    assert f"{air.heat_ratio:.7f}" == ratio
    assert air.viscosity == pytest.approx(viscosity, abs=LAST_PLACE)
    assert air.thermal_diffusion == pytest.approx(diffusion, abs=LAST_PLACE)


@pytest.mark.parametrize("celsius", [0, 20, 37, 40])
def test_sound_speed_agrees_with_coolprop_in_dry_air(celsius):
    # Lemmon et al. 2000 equation of state; measured difference at most 0.005 %
    expected = PropsSI("speed_of_sound", "T", celsius + 273.15, "P", 101325, "Air")
    assert Air.at(celsius, 0.0).sound_speed == pytest.approx(expected, rel=1e-4)


@pytest.mark.parametrize("celsius", [0, 20, 37, 40])
@pytest.mark.parametrize("humidity", [0.5, 1.0])
def test_sound_speed_and_density_agree_with_coolprop_in_moist_air(celsius, humidity):
    given = ("T", celsius + 273.15, "P", 101325, "R", humidity)
    air = Air.at(celsius, humidity)
    # measured 0.008 % at most
    speed = HAPropsSI("speed_of_sound", *given)
    assert air.sound_speed == pytest.approx(speed, rel=1.5e-4)
    # volume of moist air per kg of moist air
    assert air.density == pytest.approx(1 / HAPropsSI("Vha", *given), rel=1e-4)


def test_viscosity_and_prandtl_number_agree_with_coolprop():
    # measured: viscosity 0.3 % low, Prandtl number 2.4 % high at 20 degrees C (the standard's
    # heat conduction is an older fit)
    air = Air.at(20.0, 0.0)
    assert air.viscosity == pytest.approx(PropsSI("V", "T", 293.15, "P", 101325, "Air"), rel=0.005)
    assert air.prandtl == pytest.approx(
        PropsSI("PRANDTL", "T", 293.15, "P", 101325, "Air"), rel=0.03
    )


def cents(a, b):
    return 1200 * math.log2(a / b)


def test_pitch_follows_temperature_as_published():
    # 600/(ln 2 T): 2.953 cents a degree at 20 degrees C for an ideal gas; with 50 % humidity the
    # growing water content adds to it (physics: 3.14, from the same standard)
    def slope(humidity):
        return cents(Air.at(20.5, humidity).sound_speed, Air.at(19.5, humidity).sound_speed)

    assert slope(0.0) == pytest.approx(2.953, abs=0.01)
    assert slope(0.5) == pytest.approx(3.14, abs=0.02)


def test_breath_is_as_fast_as_dry_air():
    # ideal-gas mixture, saturated at 37 degrees C: dry +17.3 cents; with 4 % CO2 +0.2, with 5 %
    # -4.0 against dry air
    dry = Air.at(37.0, 0.0).sound_speed
    assert cents(Air.at(37.0, 1.0).sound_speed, dry) == pytest.approx(17.3, abs=0.5)
    assert cents(Air.at(37.0, 1.0, co2=0.04).sound_speed, dry) == pytest.approx(0.2, abs=0.6)
    assert cents(Air.at(37.0, 1.0, co2=0.05).sound_speed, dry) == pytest.approx(-4.0, abs=0.6)


def test_the_extension_to_breath_meets_the_standard_without_a_step():
    below, above = Air.at(30.0, 0.8, co2=0.01), Air.at(30.0, 0.8, co2=0.010001)
    assert above.sound_speed == pytest.approx(below.sound_speed, rel=1e-6)
    assert above.heat_ratio == pytest.approx(below.heat_ratio, rel=1e-6)
    assert above.sound_speed < below.sound_speed


def test_a_warm_column_goes_from_breath_to_room():
    room = Air.at(18.0)
    column = AirColumn.breath(room)
    ends = column.along([0.0, 0.5, 1.0])
    assert ends.sound_speed[0] == Air.at(34.0, 1.0, co2=0.04).sound_speed
    assert ends.sound_speed[2] == room.sound_speed
    assert ends.density[1] == pytest.approx(0.5 * (ends.density[0] + ends.density[2]))


@pytest.mark.parametrize("air", [Air.at(18.0), AirColumn.breath(Air.at(18.0))])
def test_air_at_one_place_is_that_of_the_profile_to_the_bit(air):
    shares = np.linspace(0, 1, 7)
    profile = air.arrays(shares)
    for share, speed, density in zip(shares, profile.sound_speed, profile.density, strict=True):
        here = air.at_share(share)
        assert (here.sound_speed, here.density) == (speed, density)
    assert (air.at_lips, air.at_open_end) == (air.at_share(0.0), air.at_share(1.0))
    assert profile[[0, 6]].prandtl.tolist() == [air.at_lips.prandtl, air.at_open_end.prandtl]


BAD = {
    "too cold": {"celsius": -0.1},
    "too hot": {"celsius": 40.1},
    "nan": {"celsius": math.nan},
    "over-moist": {"humidity": 1.01},
    "high mountain": {"pascal": 50e3},
    "too much CO2": {"co2": 0.051},
}


@pytest.mark.parametrize("given", BAD.values(), ids=BAD)
def test_air_refuses_what_it_has_no_formula_for(given):
    with pytest.raises(ValueError, match="expected from"):
        Air.at(**given)


def test_plain_air_refuses_nonsense():
    with pytest.raises(ValueError, match="density"):
        Air(343.0, -1.2, 1.8e-5, 1.4, 0.71)
