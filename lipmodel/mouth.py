"""The air upstream of the lips: one cavity fed from the lungs, and what the tongue does to it.

Lungs of pressure p_l feed a cavity of compliance C = V/(rho c^2) through the tongue's channel and
the glottis, inertance M and resistance R in series; the lips draw the flow U from it:

  M q' = p_l - p - R q,   C p' = q - U,   Z(s) = (R + s M)/(1 + s C (R + s M))

With Z0 = sqrt(M/C): resonance 1/(2 pi sqrt(M C)), quality Z0/R, peak about quality times Z0.

The time loop steps it by the trapezoidal rule with the resonance kept where it is (tan(w dt/2) in
place of w dt/2); implicit Euler, tried first, turns a quality of 6 at 750 Hz into 3.8 at 48 kHz.
C and M are wave digital elements with waves normalised by power (A. Fettweis, Proc. IEEE 74,
270-327, 1986): what they store does not change when the tongue moves.  The tongue does no work
then, and nothing that it does can give energy.

Peaks seen from the lips while brass is played are smaller than the bore's (J.-M. Chen, J. Smith
and J. Wolfe 2012, from memory): 15 MPa s/m3 and a quality of 6 are ours.
"""

from dataclasses import dataclass

import numpy as np

PEAK, QUALITY = 15e6, 6.0  # Pa s/m3; ours
# Two tubes for a vowel: length and area of the one behind and the one in front, m and m2.  After
# G. Fant as in J. L. Flanagan, Speech analysis, synthesis and perception (from memory).
TWO_TUBES = {"ah": ((0.09, 1e-4), (0.08, 7e-4)), "ee": ((0.09, 8e-4), (0.06, 1e-4))}


@dataclass(frozen=True, slots=True)
class Mouth:
    """The player's mouth, SI: where it resonates, and how strongly.

    The cavity is given by its compliance or by the peak, what damps it by its quality or by the
    resistance of the glottis; peak or quality are held while the resonance moves.
    """

    resonance: float  #: Hz
    peak: float | None = PEAK  #: Pa s/m3
    compliance: float | None = None  #: m3/Pa, in place of `peak`
    quality: float | None = QUALITY
    glottis: float | None = None  #: Pa s/m3, in place of `quality`

    def __post_init__(self):
        if (self.peak is None) == (self.compliance is None):
            raise ValueError("Mouth: expected either peak or compliance")
        if (self.quality is None) == (self.glottis is None):
            raise ValueError("Mouth: expected either quality or glottis")

    def parts(self, resonance=None):
        """Z0 = sqrt(M/C) and R in Pa s/m3 at `resonance` in Hz (default: its own), numbers or of
        its shape.

        >>> Mouth(750.0).parts()
        (2500000.0, 416666.6666666667)
        """
        f = self.resonance if resonance is None else resonance
        if self.compliance is not None:
            z0 = 1 / (2 * np.pi * f * self.compliance)
        elif self.quality is not None:
            z0 = self.peak / self.quality
        else:
            z0 = np.sqrt(self.peak * self.glottis)
        return z0, z0 / self.quality if self.glottis is None else self.glottis

    def impedance(self, s):
        """Pa s/m3 seen from the lips at complex frequency `s` in 1/s, of its shape."""
        z0, r = self.parts()
        turn = s / (2 * np.pi * self.resonance)
        through = r + turn * z0
        return through / (1 + turn / z0 * through)

    def law(self, resonance, zc, rate):
        """What the time loop needs at `resonance` Hz, shape (n,), on a bore of impedance `zc`
        (Pa s/m3) with `rate` samples a second: shape (9, n).

        0 B, 1 zc + B, 2 1/(zc + B), 3 B/sqrt(Zc), 4 B G, 5 sqrt(Zl), 6 G, 7 2/sqrt(Zc), 8 R,
        with Zc and Zl of cavity and channel, G = 1/(R + Zl), B = 1/(1/Zc + G): the pressure in
        the mouth is what is stored less B U.
        """
        z0, r = self.parts(resonance)
        half = np.tan((np.pi / rate) * np.asarray(resonance, float))
        found = np.empty((9, len(half)))  # few divisions: a moving tongue needs these each sample
        onward = r * half + z0
        stored = z0 * half
        share = 1 / (onward + stored * half)
        root = np.sqrt(stored)
        found[0] = b = stored * onward * share
        found[1] = zc + b
        found[2] = 1 / found[1]
        found[3] = root * onward * share
        found[4] = stored * half * share
        found[7] = reciprocal = 2 / root
        found[5] = (0.5 * z0) * reciprocal
        found[6] = half / onward
        found[8] = r
        return found


def vowel(name: str, density: float, sound_speed: float) -> tuple[float, float]:
    """Resonance in Hz and compliance in m3/Pa that stand for the two tubes of "ah" or "ee" in air
    of `density` kg/m3 and `sound_speed` m/s: closed at the lips, open to the lungs.

    Z = -j z_f (z_b t_b + z_f t_f)/(z_b t_b t_f - z_f), t = tan(k length): the lowest pole, and
    half the slope of its susceptance.

    >>> [round(f) for f in (vowel("ah", 1.15, 350.0)[0], vowel("ee", 1.15, 350.0)[0])]
    [237, 868]
    """
    (back, back_area), (front, front_area) = TWO_TUBES[name]
    ratio = back_area / front_area  # z_front/z_back
    low, high = 1e-6, np.pi / 2 / max(back, front) - 1e-9
    for _ in range(80):  # tan tan rises from 0 to infinity
        k = 0.5 * (low + high)
        low, high = (k, high) if np.tan(k * back) * np.tan(k * front) < ratio else (low, k)
    z_back, z_front = (density * sound_speed / area for area in (back_area, front_area))
    tb, tf = np.tan(k * back), np.tan(k * front)
    # B = (z_b tb tf - z_f)/(z_f (z_b tb + z_f tf)); at the pole only the numerator's slope counts
    slope = z_back * (back * (1 + tb * tb) * tf + front * (1 + tf * tf) * tb)
    slope /= z_front * (z_back * tb + z_front * tf) * sound_speed
    return float(k * sound_speed / (2 * np.pi)), float(slope / 2)
