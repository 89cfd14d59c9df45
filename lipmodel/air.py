"""Air from temperature, humidity, carbon dioxide and pressure.

Formulas: IEC 61094-2:2009, Annex F (density after CIPM-2007: Picard, Davis, Glaser and Fujii,
Metrologia 45, 149-155, 2008; sound speed and heat ratio in the form of Cramer, J. Acoust. Soc.
Am. 93, 2510-2516, 1993).  The standard states 15-27 degrees C, 60-110 kPa and 10-90 % relative
humidity.  Outside that:

- 0 to 40 degrees C and 0 to 100 % humidity: the same formulas, held against CoolProp in the tests.
- CO2 above 1 % (breath): sound speed and heat ratio are carried on from 1 % by the ratio of the
  ideal-gas values, the extra CO2 standing in for oxygen; molar heat capacities of the ideal gases
  from CoolProp 8.0.  Viscosity and heat conduction ignore CO2 (5 % would lower viscosity by 1 %).
"""

from dataclasses import dataclass, fields
from math import exp, sqrt

import numpy as np

from lipmodel.units import KELVIN

SOUND_SPEED = (  # a0..a15 of c0
    (331.5024, 0.603055, -0.000528),
    (51.471935, 0.1495874, -0.000782),
    (-1.82e-7, 3.73e-8, -2.93e-10),
    (-85.20931, -0.228525, 5.91e-5),
    (-2.835149, -2.15e-13, 29.179762, 0.000486),
)
HEAT_RATIO = (  # the same form for the ratio of heat capacities
    (1.400822, -1.75e-5, -1.73e-7),
    (-0.0873629, -1.665e-4, -3.26e-6),
    (2.047e-8, -1.26e-10, 5.939e-14),
    (-0.1199717, -8.693e-4, 1.979e-6),
    (-0.01104, -3.478e-16, 0.0450616, 1.82e-6),
)
CO2_OF_THE_FIT = 0.01  # mole fraction up to which Cramer's polynomials hold
GAS_CONSTANT = 8.314462618  # J/(mol K), SI 2019
CALORIE = 4186.8  # J/kcal, the unit of the standard's printed coefficients
LIMITS = {
    "celsius": (0.0, 40.0),
    "humidity": (0.0, 1.0),
    "pascal": (60e3, 110e3),
    "co2": (0.0, 0.05),
}


@dataclass(frozen=True, slots=True)
class Air:
    """Still air, SI units."""

    sound_speed: float  #: m/s
    density: float  #: kg/m3
    viscosity: float  #: Pa s
    heat_ratio: float  #: heat capacity at constant pressure over that at constant volume
    prandtl: float  #: viscosity over thermal diffusion

    def __post_init__(self):
        for field in fields(self):
            value = getattr(self, field.name)
            if not 0 < value < float("inf"):  # also refuses nan
                raise ValueError(f"Air {field.name} = {value!r}: must be a number above 0")

    @classmethod
    def at(cls, celsius=20.0, humidity=0.5, pascal=101325.0, co2=0.0004) -> "Air":
        """Air at a temperature (0-40 degrees C), relative humidity (0-1), static pressure
        (60-110 kPa) and CO2 mole fraction (0-0.05).

        Raises ValueError outside these ranges.  Source: IEC 61094-2:2009 Annex F, extended as
        the module says.

        >>> round(Air.at(celsius=20.0, humidity=0.5).sound_speed, 1)
        344.0
        """
        given = {"celsius": celsius, "humidity": humidity, "pascal": pascal, "co2": co2}
        for name, value in given.items():
            low, high = LIMITS[name]
            if not low <= value <= high:
                raise ValueError(f"Air.at({name}={value!r}): expected from {low:g} to {high:g}")
        kelvin = celsius + KELVIN
        water = _water_fraction(celsius, humidity, pascal)
        fitted = min(co2, CO2_OF_THE_FIT)
        speed = _cramer_form(SOUND_SPEED, celsius, water, pascal, fitted)
        ratio = _cramer_form(HEAT_RATIO, celsius, water, pascal, fitted)
        if co2 > fitted:
            speed, ratio = _more_co2(speed, ratio, celsius, water, fitted, co2)
        viscosity = 1e-8 * (
            84.986
            + 7.0 * kelvin
            + (113.157 - kelvin) * water
            - 3.7501e-3 * kelvin**2
            - 100.015 * water**2
        )
        conduction = (CALORIE * 1e-8) * (
            60.054 + 1.846 * kelvin + 2.06e-6 * kelvin**2 + (40.0 - 1.775e-4 * kelvin) * water
        )
        prandtl = viscosity * _heat_capacity(kelvin, water) / conduction
        density = _density(celsius, water, pascal, co2)
        return cls(speed, density, viscosity, ratio, prandtl)

    @property
    def thermal_diffusion(self) -> float:
        """Thermal diffusivity in m2/s."""
        return self.viscosity / (self.density * self.prandtl)

    def impedance(self, area):
        """Plane-wave impedance rho c / S in Pa s/m3 of a cross-section in m2."""
        return self.density * self.sound_speed / area

    def along(self, share):
        """Air at a `share` of the tube (0 lip end, 1 open end), shape (n,): here the same
        everywhere.  Returns an `Air` whose five values broadcast against `share`."""
        return self

    def arrays(self, share) -> "Profile":
        """The same as arrays of the shape of `share`."""
        return Profile(*(np.full(np.shape(share), getattr(self, f.name)) for f in fields(Air)))

    def at_share(self, share: float) -> "Air":
        """The air at a `share` of the tube (0 lip end, 1 open end)."""
        return self

    @property
    def at_lips(self) -> "Air":
        """The air at the lip end."""
        return self

    @property
    def at_open_end(self) -> "Air":
        """The air at the open end and outside."""
        return self


@dataclass(frozen=True)
class AirColumn:
    """Warm breath at the lips falling to room air along the tube.

    The five properties go in a straight line from `lips` to `room`; common practice, no
    published source for the shape of the profile.
    """

    lips: Air
    room: Air

    @classmethod
    def breath(cls, room: Air, pascal: float = 101325.0) -> "AirColumn":
        """Breath at 34 degrees C, saturated, 4 % CO2, cooling to `room`."""
        return cls(Air.at(34.0, 1.0, pascal, 0.04), room)

    def along(self, share):
        """The five properties at a `share` of the tube (0 lip end, 1 open end), shape (n,)."""
        return Profile(*self._values(np.asarray(share, float)))

    arrays = along

    def at_share(self, share: float) -> Air:
        """The air at a `share` of the tube (0 lip end, 1 open end)."""
        return Air(*self._values(float(share)))

    def _values(self, share):
        return [
            (1 - share) * getattr(self.lips, f.name) + share * getattr(self.room, f.name)
            for f in fields(Air)
        ]

    @property
    def at_lips(self) -> Air:
        """The air at the lip end."""
        return self.lips

    @property
    def at_open_end(self) -> Air:
        """The air at the open end and outside."""
        return self.room


@dataclass(frozen=True, slots=True)
class Profile:
    """The properties of `Air` as arrays along the tube."""

    sound_speed: np.ndarray
    density: np.ndarray
    viscosity: np.ndarray
    heat_ratio: np.ndarray
    prandtl: np.ndarray

    def __getitem__(self, index) -> "Profile":
        """The properties at these places."""
        return Profile(*(getattr(self, f.name)[index] for f in fields(self)))


def _water_fraction(celsius, humidity, pascal):
    kelvin = celsius + KELVIN
    saturation = exp(
        1.2378847e-5 * kelvin**2 - 1.9121316e-2 * kelvin + 33.93711047 - 6343.1645 / kelvin
    )
    enhancement = 1.00062 + 3.14e-8 * pascal + 5.6e-7 * celsius**2
    return humidity * enhancement * saturation / pascal


def _cramer_form(a, t, xw, p, xc):
    const, water, press, carbon, last = a
    return (
        (const[0] + const[1] * t + const[2] * t**2)
        + (water[0] + water[1] * t + water[2] * t**2) * xw
        + (press[0] + press[1] * t + press[2] * t**2) * p
        + (carbon[0] + carbon[1] * t + carbon[2] * t**2) * xc
        + (last[0] * xw**2 + last[1] * p**2 + last[2] * xc**2 + last[3] * xw * p * xc)
    )


def _density(t, xw, p, xc):
    kelvin = t + KELVIN
    z = (
        1
        - (p / kelvin)
        * (
            1.58123e-6
            - 2.9331e-8 * t
            + 1.1043e-10 * t**2
            + (5.707e-6 - 2.051e-8 * t) * xw
            + (1.9898e-4 - 2.376e-6 * t) * xw**2
        )
        + (p / kelvin) ** 2 * (1.83e-11 - 0.765e-8 * xw**2)
    )
    molar = (3.483740 + 1.4446 * (xc - 0.0004)) * 1e-3
    return molar * p / (z * kelvin) * (1 - 0.3780 * xw)


def _heat_capacity(kelvin, xw):
    """J/(kg K) of moist air (Annex F)."""
    dry = 0.251625 - 9.2525e-5 * kelvin + 2.1334e-7 * kelvin**2 - 1.0043e-10 * kelvin**3
    moist = (0.12477 - 2.283e-5 * kelvin + 1.267e-7 * kelvin**2) * xw
    moist += (0.01116 + 4.61e-6 * kelvin + 1.74e-8 * kelvin**2) * xw**2
    return CALORIE * (dry + moist)


def _more_co2(speed, ratio, t, xw, fitted, co2):
    """Carry sound speed and heat ratio from `fitted` to `co2` by ideal-gas ratios.

    CO2 takes the place of O2; ideal molar heat capacities from CoolProp 8.0 at 0-40 degrees C:
    CO2 35.97 + 0.0463 t, O2 29.27 + 0.0046 t J/(mol K).
    """
    extra = (co2 - fitted) * (1 - xw)
    before = ratio / (ratio - 1) * GAS_CONSTANT  # molar heat capacity at constant pressure
    after = before + extra * ((35.97 + 0.0463 * t) - (29.27 + 0.0046 * t))
    new_ratio = after / (after - GAS_CONSTANT)
    mass = 28.9655 * (1 - 0.3780 * xw)  # g/mol
    new_mass = mass + 12.011 * extra
    return speed * sqrt(new_ratio / ratio * mass / new_mass), new_ratio
