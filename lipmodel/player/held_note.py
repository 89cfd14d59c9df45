"""The sound of one held note, its lips resting in the slot or lipped from there."""

from lipmodel.player import embouchure
from lipmodel.player.cached import kept_ladder
from lipmodel.player.short_note import play_note
from lipmodel.sound import listener, loudness
from lipmodel.units import cents
from lipmodel.waveguide.state import Horn

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
    mouth = min(lips.breath(dynamic, pitch), HARDEST)
    try:
        setting, before = embouchure.solve(horn, pitch, mouth, None).tension, None
        if lipped:
            target = pitch * 2 ** (lipped / 1200)
            near, before = setting * 2 ** (cents(target, pitch) / 400), setting
            setting = embouchure.solve(horn, target, mouth, None, near, before).tension
    except embouchure.UnreachableError:
        return None
    played, _ = play_note(horn, setting, mouth, LENGTH, None, before, RELEASE, TAIL)
    response = listener.radiation_filter(bore, air.at_open_end, RATE, DISTANCE, 0.0)
    admittance = horn.ladder.admittance[-1]
    heard = listener.radiated(played.out_wave, played.back_wave, admittance, response)
    return loudness.matched(heard, RATE, LOUDNESS).samples
