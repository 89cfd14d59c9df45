"""The embouchure: which lip setting plays a given note.

Inside a slot the pitch rises steadily with the setting, about 0.2 to 0.35 cent a cent, so a
secant finds it and a bracket keeps it.  Each trial starts from rest and comes from 3 % below, as
a phrase does: the same setting can play two partials, depending on where one comes from.
"""

from dataclasses import dataclass

import numpy as np

from lipmodel.analysis.pitch import lowest_for, refine, steady_pitch
from lipmodel.player.short_note import ARRIVING, FAR_LOOSER, LOOSER, play_note
from lipmodel.units import cents
from lipmodel.waveguide.state import Horn

TRIAL, MEASURED = 0.55, 0.2  # s
CLOSE = 0.7  # cents
SPEAKS = 0.08  # rms in the mouthpiece over mouth pressure; pp notes reach 0.2, growing ones 0.02
MOST_TRIALS = 24
NEAR_ENOUGH = 2.0  # cents: taken when no trial came closer; a phrase is polished afterwards
SLOPE = 0.28  # cents of pitch a cent of setting, at first
NEAR = 170.0  # cents: within this of the target a trial counts for the bracket
LONGEST_STEP = 120.0  # cents of setting
LOOSEST = 0.25  # of the target, where the search begins for the hardest breath


@dataclass(frozen=True)
class Setting:
    """tension in Hz, what it plays in Hz, cents of pitch a cent of tension, and times the tension
    from where the lips come to it."""

    tension: float
    frequency: float
    slope: float
    comes: float = LOOSER


class UnreachableError(Exception):
    """No setting plays the note; `nearest` is the nearest pitch found in Hz, or None."""

    def __init__(self, nearest):
        super().__init__("no lip setting plays this note")
        self.nearest = nearest


def speaks(horn: Horn, tension, mouth, lines) -> bool:
    """True where a note has come up half a second after the breath."""
    return bool(np.std(_trial(horn, tension, mouth, lines, None)) > SPEAKS * mouth)


def pitch_at(horn: Horn, tension, mouth, lines, before=None, comes=LOOSER):
    """What `tension` Hz plays at `mouth` Pa, in Hz, or None if it is silent.

    `before`: a setting held first, from which the lips then move on slowly (for bends).
    """
    tail = _trial(horn, tension, mouth, lines, before, comes)
    frequency = steady_pitch(tail, horn.rate, floor=20.0, lowest=lowest_for(tension))
    return None if np.isnan(frequency) else frequency


def _trial(horn, tension, mouth, lines, before, comes=LOOSER):
    """Mouthpiece pressure in Pa over the last 0.2 s of a trial."""
    length = TRIAL if before is None else ARRIVING + TRIAL / 2
    played, _ = play_note(horn, tension, mouth, length, lines, before, comes=comes)
    return played.mouthpiece_pressure[-int(MEASURED * horn.rate) :]


def solve(horn: Horn, target, mouth, lines, near=None, before=None) -> Setting:
    """The setting that plays `target` Hz at `mouth` Pa within 0.7 cent, 2 at the worst.

    `lines` are the delays of the ladder's lines; `near` a setting to start from.  Raises
    UnreachableError with the nearest pitch found.  A note above what lips that come from nearby
    reach is tried with lips that come from far below.
    """
    try:
        return _solved(horn, target, mouth, lines, near, before, LOOSER)
    except UnreachableError as error:
        if before is not None:
            raise
        try:
            return _solved(horn, target, mouth, lines, near, before, FAR_LOOSER)
        except UnreachableError:
            raise error from None


def _solved(horn, target, mouth, lines, near, before, comes) -> Setting:
    tension = near or target * max(0.97 - 0.024 * mouth / 1e3 * 233.0 / target, LOOSEST)
    low = high = None  # (tension, error) with the pitch below and above the target
    slope, nearest, last, best = SLOPE, None, None, None
    for _ in range(MOST_TRIALS):
        frequency = pitch_at(horn, tension, mouth, lines, before, comes)
        if frequency is None:
            error = None
            step = -50.0  # silent: too tight for this breath
        else:
            error = cents(frequency, target)
            if nearest is None or abs(error) < abs(cents(nearest, target)):
                nearest, best = frequency, tension
            if abs(error) <= CLOSE:
                return Setting(tension, frequency, slope, comes)
            if last is not None and abs(error) < NEAR and abs(cents(tension, last[0])) > 1:
                local = (error - last[1]) / cents(tension, last[0])
                slope = float(np.clip(local, 0.1, 1.0)) if local > 0 else slope
            step = float(np.clip(-error / slope, -LONGEST_STEP, LONGEST_STEP))
            last = (tension, error)
        if error is not None and abs(error) < NEAR:
            if error < 0 and (low is None or tension > low[0]):
                low = (tension, error)
            if error > 0 and (high is None or tension < high[0]):
                high = (tension, error)
        elif error is not None:
            # another partial: half way back to what is known on this one
            known = low if error > 0 else high
            if known is not None:
                step = 0.5 * cents(known[0], tension)
        elif low is not None:
            step = 0.5 * cents(low[0], tension)
        following = tension * 2 ** (step / 1200)
        if low and high and low[0] < high[0] and not low[0] < following < high[0]:
            following = np.sqrt(low[0] * high[0])
        if low and high and abs(cents(low[0], high[0])) < 0.05:
            break
        tension = float(following)
    if best is not None and abs(cents(nearest, target)) <= NEAR_ENOUGH:
        return Setting(best, nearest, slope, comes)
    raise UnreachableError(nearest)


def pitch_near(pressure, rate, target):
    """Pitch in Hz of a note within a phrase, nearest to `target` Hz, or None."""
    frequency = steady_pitch(pressure, rate, floor=20.0, lowest=lowest_for(target))
    if np.isnan(frequency):
        if len(pressure) < 0.05 * rate or np.std(pressure) < 20.0:
            return None
        frequency = refine(pressure, rate, target)
    return float(frequency)
