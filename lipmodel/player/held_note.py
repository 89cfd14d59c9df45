"""The sound of one held note, its lips resting in the slot or lipped from there."""

import numpy as np

from lipmodel.lips import DYNAMICS
from lipmodel.player import embouchure
from lipmodel.player.cached import kept_ladder
from lipmodel.sound import listener, loudness
from lipmodel.units import cents
from lipmodel.waveguide.state import Block, Horn, start
from lipmodel.waveguide.time_loop import advance

RATE = 48_000.0
LENGTH, RELEASE, TAIL = 1.6, 0.03, 0.2  # s
LOUDNESS = -16.0  # LUFS
DISTANCE = 1.0  # m from the open end
HARDEST = 40e3  # Pa, as a scene allows


def held_note(bore, air, lips, pitch: float, lipped: float = 0.0, dynamic: str = "mf"):
    """Samples (-1 to 1, 48 kHz) of a note that rests at `pitch` Hz, lipped by some cents from
    there, at equal loudness; None where no lip setting plays it."""
    lips_air = getattr(air, "lips", air)
    horn = Horn(kept_ladder(bore, air, RATE), lips, lips_air.density)
    mouth = min(DYNAMICS[dynamic] * lips.threshold_per_hz * pitch, HARDEST)
    try:
        setting = embouchure.solve(horn, pitch, mouth, None).tension
        if lipped:
            target = pitch * 2 ** (lipped / 1200)
            near = setting * 2 ** (cents(target, pitch) / 400)
            bent = embouchure.solve(horn, target, mouth, None, near, setting).tension
            points = ([0, embouchure.SETTLING, 0.3, 0.6],
                      [embouchure.FROM_ABOVE * setting, setting, setting, bent])  # fmt: skip
        else:
            points = [0, embouchure.SETTLING], [embouchure.FROM_ABOVE * setting, setting]
    except embouchure.UnreachableError:
        return None
    return _played(horn, bore, air, mouth, points)


def _played(horn, bore, air, mouth, points):
    time = np.arange(int((LENGTH + TAIL) * RATE)) / RATE
    breath = mouth * np.interp(
        time, [0, embouchure.ATTACK, LENGTH - RELEASE, LENGTH], [0.0, 1.0, 1.0, 0.0]
    )
    played = advance(horn, start(horn), Block(breath, np.interp(time, *points)))
    response = listener.radiation_filter(bore, air.at_open_end, RATE, DISTANCE, 0.0)
    admittance = horn.ladder.admittance[-1]
    heard = listener.radiated(played.out_wave, played.back_wave, admittance, response)
    return loudness.matched(heard, RATE, LOUDNESS).samples
