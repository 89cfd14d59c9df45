"""The bore as modes and the lips written a second time, to be integrated by other means."""

import numpy as np
from scipy.interpolate import AAA
from support.horns import TRUMPET
from support.music import AIR

from lipmodel.acoustics.impedance import impedance
from lipmodel.lips import SMALL


def modal_bore():
    """Poles (rad/s) and residues of the exact input impedance: p = sum of modes + direct u."""
    frequency = np.linspace(15.0, 6000.0, 1500)
    z = impedance(TRUMPET, AIR, frequency)
    s = 2j * np.pi * frequency
    fit = AAA(np.concatenate([s, -s]), np.concatenate([z, z.conj()]), rtol=1e-3, max_terms=160)
    poles, residues = fit.poles(), fit.residues()
    keep = (poles.real < 0) & (poles.imag > 0) & (poles.imag < 2 * np.pi * 5900)
    poles, residues = poles[keep], residues[keep]

    def modes(s):
        return np.sum(
            residues / (s[:, None] - poles) + residues.conj() / (s[:, None] - poles.conj()), axis=1
        )

    low = frequency < 4000
    direct = np.median((z - modes(s)).real[low])
    return poles, residues, max(direct, 0.0), np.abs(modes(s) + direct - z)[low] / np.abs(z)[low]


def lips_independently(y, mouth, poles, residues, direct, tension):
    """The equations of lips.py written again, in continuous time: dy/dt."""
    lip = SMALL
    m = len(poles)
    modes = y[:m] + 1j * y[m : 2 * m]
    x, h, vx, vh = y[2 * m :]
    quality, d = lip.quality_at(tension), lip.thickness
    root = np.hypot(h, lip.smoothing)
    gap, share = (h + root) / 2, (1 + h / root) / 2
    area = 2 * lip.width * gap
    area = area / (1 + area / (2 * lip.width * lip.aperture_limit))
    nx, ny = lip.joint[1] - h, x - lip.joint[0]
    swept = 2 * lip.width * (nx * vx + ny * vh)
    loss = 0.5 * AIR.density * (1 / area**2 - 2 / (area * lip.cup_area) + 2 / lip.cup_area**2)
    back = 2 * np.sum(modes.real) + direct * swept
    drop = mouth - back
    # mouth - (back + direct jet) = sign(jet) loss jet^2
    jet = np.sign(drop) * ((-direct + np.sqrt(direct**2 + 4 * loss * abs(drop))) / (2 * loss))
    p = back + direct * jet
    channel = (mouth if jet >= 0 else p) - 0.5 * AIR.density * (jet / area) ** 2
    k, mass = lip.stiffness_per_hz * tension, lip.stiffness_per_hz / (4 * np.pi**2 * tension)
    resist = np.sqrt(mass * k) * (share / quality + (1 - share) / lip.closed_quality)
    dx, dh = x - lip.rest[0], h - lip.rest[1]
    far = (dx**2 + dh**2) ** 2 / lip.stiffening[1] ** 4
    lifted = (h / lip.stiffening[0]) ** 2 if h > 0 else 0.0
    fx = -k / 2 * dx * (1 + far) + lip.width * (mouth - p) * nx - resist / 2 * vx
    fh = -k / 2 * dh * (1 + far + lifted) + lip.width * (mouth - p) * ny - resist / 2 * vh
    fh += lip.contact * k / 2 * (gap - h) + lip.width * d * channel * share
    change = poles * modes + residues * (jet + swept)
    return np.concatenate([change.real, change.imag, [vx, vh, 2 * fx / mass, 2 * fh / mass]]), p
