"""The lip valve: parameters of the calibrated players and the laws by which they follow tension.

The lips move outward and upward after S. Adachi and M. Sato, J. Acoust. Soc. Am. 99, 1200-1209
(1996).  One lip, half the mass m and stiffness k of both, tip at (x, y), x towards the bore:

  (m/2) xi'' = -(1/2)(sqrt(mk)/Q) xi' - (k/2)(xi - rest) + b (pm - p) n + b d p_lip e_y
  n = (joint_y - y, x - joint_x), the lip from joint to tip turned by 90 degrees
  S = 2 b y for y > 0;  swept flow 2 b n . xi' (both lips, conjugate to the pressure force)
  pm - p_lip = rho U^2/(2 S^2);  p_lip - p = -rho U^2 (1/(S_cup S) - 1/S_cup^2)
  p = back + zc (U + swept), with U the root of one quadratic (no branch to choose)

Ours, not published: the smooth contact (gap = (y + sqrt(y^2 + e^2))/2 and its slope as a blend of
open and closed), the aperture limit S/(1 + S/(2 b limit)), two stiffening terms that keep loud
low notes bounded, and the law Q = Q0 F^q with F = tension/reference: it makes threshold
pressures grow in proportion to frequency.  Lips pressed together at rest by almost 0.2 mm, on soft
springs and a firm contact, stay shut for part of every cycle even in soft notes: with lips that
rest nearly open low notes have hardly a harmonic, whatever else is changed.  Calibrated against
the published facts listed in tests/reference/calibration.py.

swing: h'' + (w/Q) h' + w^2 (h - h0) = (pm - p)/mu, S = b h: blown open, outward only; mu, h0
and Q chosen so that the fourth partial of the trumpet speaks at 2 to 5 kPa.
lift: the y-motion alone, moved by the pressure in the channel only.
"""

from dataclasses import dataclass, replace

import numpy as np

MOTIONS = ("both", "swing", "lift")
# Where a marking lies between the softest and the loudest breath, in octaves of breath.  Ours.
DYNAMICS = {"pp": 0.0, "p": 0.15, "mp": 0.31, "mf": 0.5, "f": 0.73, "ff": 1.0}
# The softest over the pressure at which the note begins; the loudest is a player's `loudest` at
# `middle`, and grows more slowly than the note's own pressure: a player has only so much breath
# for high notes.  Ours, inside the published ranges from softest to loudest (Bouhuys 1965 and
# others, from memory).
SOFTEST, LOUDEST_EXPONENT = 1.1, 0.45
# Firmness, a law of the player and ours: whoever blows harder presses the lips harder.  Muscle
# activity and the mouthpiece's force rise with loudness (Bianco, Freour and others, J. New Music
# Res. 41, 2012; Barbenel, Kenny and Davies, J. Biomech. 21, 417-424, 1988; abstracts seen).
KNEE_EXPONENT, FIRM_EXPONENT, FIRM_SHARPNESS = 0.2, 1.24, 12


@dataclass(frozen=True, slots=True)
class Lips:
    """A player's lips, SI units."""

    motion: str  #: "both", "swing" or "lift"
    width: float  #: m, b
    thickness: float  #: m, d
    rest: tuple[float, float]  #: m, (x, y) of the lips at rest; y < 0: pressed together
    quality: float  #: Q of the open lips at the reference tension
    stiffness_per_hz: float  #: N/(m Hz): k = this times the tension
    joint: tuple[float, float]  #: m, where the lip is hinged
    cup_area: float  #: m2, the mouthpiece's entry as the jet sees it
    reference: float  #: Hz, where F = 1
    aperture_limit: float  #: m
    stiffening: tuple[float, float]  #: m, of opening and of any excursion
    closed_quality: float = 0.5
    contact: float = 8.0  #: extra stiffness of closed lips, in k
    smoothing: float = 28e-6  #: m, of the contact
    quality_exponent: float = 0.5
    highest: float = 1600.0  #: Hz, where the laws stop
    threshold_per_hz: float = 8.0  #: Pa/Hz, about where notes begin, in proportion to frequency
    middle: float = 466.16  #: Hz, where `loudest` holds, and from where on `knee` does
    loudest: float = 2.97  #: times the pressure at which a note begins: ff
    knee: float = 2.3  #: times it: where harder breath makes the lips firmer
    resting_cents: float = 25.0  #: cents above its resonance at which a held note rests
    mass_per_area: float = 4.0  #: kg/m2, swing only
    lift_rest: float = 0.2e-3  #: m, y at rest of lift: pressed together it would not speak
    swing_rest: float = 0.15e-3  #: m, h0 of swing
    swing_quality: float = 7.0  #: Q of swing, at every tension
    firm: bool = False  #: whether they grow firmer with the breath (`firmness`)

    def __post_init__(self):
        if self.motion not in MOTIONS:
            raise ValueError(f"Lips motion = {self.motion!r}: expected one of {MOTIONS}")

    def quality_at(self, tension):
        """Quality of the open lips at `tension` in Hz, of its shape."""
        f = np.clip(tension, self.reference, self.highest) / self.reference
        if self.motion == "swing":
            return np.full(np.shape(f), self.swing_quality)
        return self.quality * f**self.quality_exponent

    def breath(self, dynamic: str, frequency: float) -> float:
        """Mouth pressure in Pa of a marking for a note of `frequency` Hz.

        >>> round(players["small"].breath("ff", 466.16))
        11076
        """
        begins = self.threshold_per_hz * frequency
        loudest = self.loudest * (self.middle / frequency) ** LOUDEST_EXPONENT
        return begins * SOFTEST * max(loudest / SOFTEST, 1.0) ** DYNAMICS[dynamic]

    def firmness(self, mouth, tension):
        """What stiffness, mass and damping are multiplied by at `mouth` Pa and `tension` Hz, of
        their shape: 1 up to a knee, then growing with the breath; frequency and Q stay.

        >>> float(players["small"].firmness(9000.0, 466.16))
        1.0
        """
        if not self.firm:
            return np.ones(np.broadcast_shapes(np.shape(mouth), np.shape(tension)))
        knee = self.knee * np.maximum(self.middle / tension, 1.0) ** KNEE_EXPONENT
        over = np.maximum(mouth, 0.0) / (self.threshold_per_hz * tension) / knee
        return (1 + over**FIRM_SHARPNESS) ** (FIRM_EXPONENT / FIRM_SHARPNESS)

    def constants(self) -> np.ndarray:
        """The numbers in the order in which the time loop reads them.

        0 width, 1-2 joint, 3-4 rest, 5 1/cup area, 6 k per Hz, 7 1/Q closed, 8 contact,
        9 smoothing, 10 1/aperture limit, 11-12 1/stiffening (the second squared), 13 mass/area,
        14 thickness
        """
        rest_x, rest_y = self.rest
        if self.motion == "swing":
            rest_x, rest_y = 0.0, self.swing_rest
        elif self.motion == "lift":
            rest_y = self.lift_rest
        return np.array(
            [
                self.width,
                *self.joint,
                rest_x,
                rest_y,
                1 / self.cup_area,
                self.stiffness_per_hz,
                1 / self.closed_quality,
                self.contact,
                self.smoothing,
                1 / self.aperture_limit,
                1 / self.stiffening[0],
                1 / self.stiffening[1] ** 2,
                self.mass_per_area,
                self.thickness,
            ]
        )


SMALL = Lips(
    motion="both",
    width=7e-3,
    thickness=2.25e-3,
    rest=(0.72e-3, -0.175e-3),
    quality=3.0,
    stiffness_per_hz=0.88,
    joint=(0.0, 3.3e-3),
    cup_area=2.3e-4,
    reference=233.0,
    aperture_limit=3e-3,
    stiffening=(8e-3, 6e-3),
)
LARGE = replace(
    SMALL,
    width=11.5e-3,
    thickness=2.8e-3,
    rest=(0.95e-3, -0.2e-3),
    stiffness_per_hz=1.12,
    joint=(0.0, 4.3e-3),
    cup_area=4.9e-4,
    reference=116.5,
    aperture_limit=5e-3,
    stiffening=(11e-3, 8e-3),
    threshold_per_hz=6.0,
    middle=233.08,
    loudest=4.0,
    knee=2.65,
)
PLAYERS = {"small": SMALL, "large": LARGE}
