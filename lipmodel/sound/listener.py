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


def image(distance, angle, bell_height=BELL_HEIGHT):
    """(distance in m, angle in rad) of ears at `distance` and `angle` from the horn's image
    under the floor, both at their heights; the angle is measured in the level of the axis."""
    down = bell_height + EAR_HEIGHT
    level = np.sqrt(max(distance**2 - (bell_height - EAR_HEIGHT) ** 2, 0.0))
    far = np.hypot(level, down)
    return float(far), float(np.arccos(level * np.cos(angle) / far))


def filter_at(
    bore, air, rate, distance, angle, place="listener", floor=False, bell_height=BELL_HEIGHT
):
    """Impulse response from volume flow (m3/s) through the open end to the pressure (Pa) at the
    ears, shaped as by `sound.radiation_filter`, which is its source; `distance` in m, `angle` in
    rad.  The direct sound arrives at once, its image as much later as its way is longer."""
    distance, angle = place_of(distance, angle, place)
    direct = radiation_filter(bore, air, rate, distance, angle)
    if not floor:
        return direct
    far, under = image(distance, angle, bell_height)
    reflected = radiation_filter(bore, air, rate, far, under)
    whole, reflected = delayed(reflected, (far - distance) / air.sound_speed * rate)
    direct[whole:] += reflected[: len(direct) - whole]
    return direct


def delayed(response, samples):
    """(whole samples, response) of one that comes 0.5 `samples` or more later."""
    from scipy.signal import lfilter  # slow to load, and filters are kept

    # an allpass for the part of a sample: any other delay would sound before it may
    whole, part = thiran(samples)
    return whole, lfilter([part, 1.0], [1.0, part], response)


def radiation_filter(bore, air, rate, distance, angle, walls=None):
    """Impulse response from volume flow (m3/s) through the open end to pressure (Pa) at
    `distance` m and `angle` rad, shape (FILTER_SIZE,); minimum phase.

    mean p^2 = rho c Re(Z_r) mean U^2 Q(angle) / (4 pi r^2); `walls`: a function of frequency, Hz,
    that gives the share of the pressure that is left after all walls on the way.
    """
    frequency, omega = filter_grid(rate)
    if bore.end in ("closed", "node"):
        return np.zeros(FILTER_SIZE)
    radius = bore.radius[-1]
    load = open_load(bore, air, omega).real
    q = directivity(omega * radius / air.sound_speed, angle, end_angle(bore), bore.end)
    power = air.density * air.sound_speed * np.maximum(load, 0) * q
    gain = np.sqrt(power / (4 * np.pi)) / distance
    return shaped(gain if walls is None else gain * walls(frequency), omega, rate)


def filter_grid(rate):
    """Frequencies in Hz and rad/s, the lowest moved off 0, on which `shaped` takes its gain."""
    frequency = np.fft.rfftfreq(4 * FILTER_SIZE, 1 / rate)
    return frequency, 2 * np.pi * np.maximum(frequency, frequency[1] / 2)


def shaped(gain, omega, rate):
    """Impulse response of minimum phase, shape (FILTER_SIZE,), of a gain that grows like
    frequency at its low end."""
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
    total = (room or MemoryRoom()).trace(len(out_wave))
    for part, values in _heard(out_wave, back_wave, admittance, response, more):
        total[part] = values
    return total


def energy(out_wave, back_wave, admittance, response, more=None) -> float:
    """Sum of squares (Pa^2) of what `radiated` gives, which is kept nowhere."""
    heard = _heard(out_wave, back_wave, admittance, response, more)
    return float(sum(np.sum(values**2) for _, values in heard))


def _heard(out_wave, back_wave, admittance, response, more):
    """(slice, pressure in Pa) of every portion; none of a response that is nothing."""
    n, before = len(out_wave), len(response) - 1
    if not np.any(response):
        return
    for part in portions(n):
        taken = slice(max(part.start - before, 0), part.stop)
        flow = (out_wave[taken] - back_wave[taken]) * admittance
        if more is not None:
            flow += more[taken]
        yield part, _answer(flow, response)[part.start - taken.start :]


def _answer(flow, response):
    size = 1 << int(np.ceil(np.log2(len(flow) + len(response) - 1)))
    spectrum = np.fft.rfft(flow, size) * np.fft.rfft(response, size)
    return np.fft.irfft(spectrum, size)[: len(flow)]
