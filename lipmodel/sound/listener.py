"""Whose ears hear it, and where: a listener before the bell or the player behind it, in free
field or over a hard floor.

The floor is a mirror: a second horn as far below it, heard under its own angle, later and weaker,
by pressure doubling at the floor itself (image source, textbook).  Both heights are those of
players and listeners who sit; common practice, no published source, as is the player's ear.
"""

import numpy as np

from lipmodel.acoustics.impedance import end_angle, open_load
from lipmodel.files.long_arrays import MemoryRoom, portions
from lipmodel.sound.directivity import directivity
from lipmodel.waveguide.filters import thiran

PLACES = ("listener", "player")
BELL_HEIGHT = 1.2  # m over the floor, axis level
EAR_HEIGHT = 1.2  # m
PLAYER_DISTANCE = 0.5  # m from the open end back to the player's ear
PLAYER_ANGLE = np.radians(160.0)  # from the axis
FILTER_SIZE = 4096  # samples of the radiation filter


def place_of(distance, angle, place="listener"):
    """(distance in m, angle in rad from the axis) of the ears; a player's are where they are,
    whatever is asked for a listener.  ValueError for another place."""
    if place not in PLACES:
        raise ValueError(f"place_of: place = {place!r}: expected one of {', '.join(PLACES)}")
    return (PLAYER_DISTANCE, PLAYER_ANGLE) if place == "player" else (distance, angle)


def image(distance, angle):
    """(distance in m, angle in rad) of ears at `distance` and `angle` from the horn's image
    under the floor, both at their heights; the angle is measured in the level of the axis."""
    down = BELL_HEIGHT + EAR_HEIGHT
    level = np.sqrt(max(distance**2 - (BELL_HEIGHT - EAR_HEIGHT) ** 2, 0.0))
    far = np.hypot(level, down)
    return float(far), float(np.arccos(level * np.cos(angle) / far))


def filter_at(bore, air, rate, distance, angle, place="listener", floor=False):
    """Impulse response from volume flow (m3/s) through the open end to the pressure (Pa) at the
    ears, shaped as by `sound.radiation_filter`, which is its source; `distance` in m, `angle` in
    rad.  The direct sound arrives at once, its image as much later as its way is longer."""
    from scipy.signal import lfilter  # slow to load, and filters are kept

    distance, angle = place_of(distance, angle, place)
    direct = radiation_filter(bore, air, rate, distance, angle)
    if not floor:
        return direct
    far, under = image(distance, angle)
    reflected = radiation_filter(bore, air, rate, far, under)
    # an allpass for the part of a sample: any other delay would sound before it may
    whole, part = thiran((far - distance) / air.sound_speed * rate)
    reflected = lfilter([part, 1.0], [1.0, part], reflected)
    direct[whole:] += reflected[: len(direct) - whole]
    return direct


def radiation_filter(bore, air, rate, distance, angle):
    """Impulse response from volume flow (m3/s) through the open end to pressure (Pa) at
    `distance` m and `angle` rad, shape (FILTER_SIZE,); minimum phase.

    mean p^2 = rho c Re(Z_r) mean U^2 Q(angle) / (4 pi r^2).
    """
    size = 4 * FILTER_SIZE
    frequency = np.fft.rfftfreq(size, 1 / rate)
    omega = 2 * np.pi * np.maximum(frequency, frequency[1] / 2)
    if bore.end in ("closed", "node"):
        return np.zeros(FILTER_SIZE)
    radius = bore.radius[-1]
    load = open_load(bore, air, omega).real
    q = directivity(omega * radius / air.sound_speed, angle, end_angle(bore), bore.end)
    power = air.density * air.sound_speed * np.maximum(load, 0) * q
    gain = np.sqrt(power / (4 * np.pi)) / distance
    # the low end grows like frequency: take out one difference, whose phase is known, so that
    # the rest is smooth and its minimum phase short
    difference = np.abs(1 - np.exp(-1j * omega / rate))
    smooth = np.maximum(gain / difference, 1e-6 * np.max(gain / difference))
    response = _minimum_phase(smooth)[:FILTER_SIZE]
    return np.diff(response, prepend=0.0)


def _minimum_phase(gain):
    """Impulse response of minimum phase for a gain on a half-sided FFT grid (cepstrum)."""
    size = 2 * (len(gain) - 1)
    cepstrum = np.fft.irfft(np.log(gain), size)
    cepstrum[1 : size // 2] *= 2
    cepstrum[size // 2 + 1 :] = 0
    return np.fft.irfft(np.exp(np.fft.rfft(cepstrum)), size)


def radiated(out_wave, back_wave, admittance, response, more=None, room=None):
    """Pressure at the listener in Pa, shape like the waves (Pa) in the last cell; `more`: flow in
    m3/s on top of theirs.  What is long is put into `room`, a piece at a time."""
    n, before = len(out_wave), len(response) - 1
    total = (room or MemoryRoom()).trace(n)
    if not np.any(response):
        return total
    for part in portions(n):
        taken = slice(max(part.start - before, 0), part.stop)
        flow = (out_wave[taken] - back_wave[taken]) * admittance
        if more is not None:
            flow += more[taken]
        total[part] = _answer(flow, response)[part.start - taken.start :]
    return total


def _answer(flow, response):
    size = 1 << int(np.ceil(np.log2(len(flow) + len(response) - 1)))
    spectrum = np.fft.rfft(flow, size) * np.fft.rfft(response, size)
    return np.fft.irfft(spectrum, size)[: len(flow)]
