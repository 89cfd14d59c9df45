"""Whether heat feeds a tube's resonances: Rayleigh's criterion, resonance by resonance.

Heat q' that follows the motion of the air at one place after a lag, q'(t) = n u'(t - tau), works
as a volume source (g - 1)/(rho c^2) q'.  It feeds a resonance when it comes while the pressure is
high (Lord Rayleigh, The explanation of certain acoustical phenomena, Nature 18, 319-321, 1878);
the form with n and tau is that of L. Crocco and S.-I. Cheng, Theory of Combustion Instability in
Liquid Propellant Rocket Motors, 1956 (both from memory).  The step in sound speed where hot gas
begins is left out.
"""

from dataclasses import dataclass

import numpy as np

from lipmodel.acoustics.field import field

PLACES = 600  # along the tube, for the stored energy


@dataclass(frozen=True)
class Growth:
    """Of resonance `n` at `frequency` Hz: e-folds a second that the heat feeds (below 0: takes)
    and that walls and ends take."""

    n: int
    frequency: float
    fed: float
    lost: float


def rayleigh(bore, air, resonances, place, strength, lag) -> list[Growth]:
    """`Growth` of each of `resonances` (of `natural_frequencies`), for small motion.

    place in m; `strength`: volume flow in m3/s for an air motion of 1 m/s; `lag` in s.
    With power P = Re(p* U)/2 into a stored energy E amplitudes grow by P/(2 E), and losses take
    w/(2 Q) (first order in both).  ValueError for a place outside the bore.
    """
    x = np.linspace(0, bore.length, PLACES)
    props = air.along(x / bore.length)
    density, speed = (np.broadcast_to(v, x.shape) for v in (props.density, props.sound_speed))
    area = np.pi * bore.radius_at(x) ** 2
    found = []
    for r in resonances:
        omega = 2 * np.pi * r.frequency
        mode = field(bore, air, [r.frequency], np.append(x, place))
        p, u = mode.pressure[0], mode.flow[0]
        density_of = np.abs(p[:-1]) ** 2 * area / (density * speed**2)
        density_of = density_of + np.abs(u[:-1]) ** 2 * density / area
        stored = np.trapezoid(density_of, x) / 4
        motion = u[-1] / (np.pi * float(bore.radius_at(place)) ** 2)
        power = 0.5 * (p[-1].conj() * strength * motion * np.exp(-1j * omega * lag)).real
        lost = omega / (2 * r.quality)
        found.append(Growth(r.n, r.frequency, float(power / (2 * stored)), float(lost)))
    return found
