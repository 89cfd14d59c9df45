"""Whose ears hear it, and where: a listener before the bell or the player behind it, in free
field or over a hard floor.

The floor is a mirror: a second horn as far below it, heard under its own angle, later and weaker,
by pressure doubling at the floor itself (image source, textbook).  Both heights are those of
players and listeners who sit; common practice, no published source, as is the player's ear.
"""

import numpy as np

from lipmodel.sound import radiation_filter
from lipmodel.waveguide import thiran

PLACES = ("listener", "player")
BELL_HEIGHT = 1.2  # m over the floor, axis level
EAR_HEIGHT = 1.2  # m
PLAYER_DISTANCE = 0.5  # m from the open end back to the player's ear
PLAYER_ANGLE = np.radians(160.0)  # from the axis


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
