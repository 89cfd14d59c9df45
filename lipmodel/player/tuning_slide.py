"""The tuning slide put where the open notes are in tune on average, as a player does first: in a
warm room, so that colder air is heard."""

from dataclasses import dataclass, replace

import numpy as np

from lipmodel.bore.valves import has_mark
from lipmodel.player import fingering
from lipmodel.player.fingering import SEMITONES, Way
from lipmodel.player.instrument import CELSIUS, Instrument
from lipmodel.player.resting import rest
from lipmodel.player.tuning import falling_to_zero, peak_near, played_cents, resonance_of
from lipmodel.units import MM, cents, note_frequency, sharp_or_flat

OPEN = (2, 3, 4, 5, 6, 8)  # partials of the open notes that are used, of every instrument
IN_TUNE = 5.0  # cents: nobody moves a slide for less
FURTHEST_OUT = 30.0  # mm; common practice, no published source


@dataclass(frozen=True)
class Tuned:
    """The open notes at mf in a room of 22 degrees C: their mean rest above their resonances and
    mean cents from equal temperament as the instrument is held now; mm the slide was moved to for
    it (None: it was left alone), and whether that is as far as it goes."""

    rest: float
    cents: float
    before: float
    pull_mm: float | None = None
    ends: bool = False

    @property
    def words(self) -> str:
        """A sentence about a slide that was moved; "" about one that was not."""
        if self.pull_mm is None:
            return ""
        way = "out" if self.pull_mm > 0 else "in"
        start = f"Tuning slide {way} {abs(self.pull_mm):g} mm"
        before = f"they were {sharp_or_flat(self.before)}"
        if self.ends:
            still = sharp_or_flat(self.cents)
            return f"{start}, as far as it goes: the open notes are still {still} on average."
        return f"{start}, so that the open notes are in tune on average ({before})."


def open_notes(
    instrument: Instrument, say=lambda words: None
) -> dict[int, tuple[float, float, float]]:
    """(resonance Hz, note Hz, rest in cents above the resonance, at mf) by partial."""
    base, found = fingering.fundamental(instrument.spec), {}
    for n in OPEN:
        way, semitone = Way("0", 1.0, n), base + SEMITONES[n]
        say(f"tuning: playing {instrument.names(semitone)['written']}")
        resonance = resonance_of(instrument, way, semitone)
        target = note_frequency(semitone, instrument.a4)
        slot = resonance and rest(instrument, Way("0", 1.0, resonance.n), target)
        if slot:
            above = cents(slot.frequency, resonance.frequency)
            found[n] = (resonance.frequency, target, above)
    return found


def tuned(instrument: Instrument, say=lambda words: None) -> tuple[Instrument, Tuned]:
    """The instrument with its tuning slide put in tune, to a whole mm, and what was found.

    A scene says itself where its slide is; a bore without one stays as it is.  `say` is told what
    is played.
    """
    found = _tuned(instrument.at(CELSIUS), say)
    mm = instrument.tuning_slide_pull_mm if found.pull_mm is None else found.pull_mm
    return replace(instrument, tuning_slide_pull_mm=mm), found


def _tuned(instrument: Instrument, say) -> Tuned:
    notes = {} if instrument.natural else open_notes(instrument, say)
    if not notes:
        return Tuned(instrument.rest, 0.0, 0.0)
    length = instrument.bore(Way("0", 1.0, 1)).length
    now = instrument.tuning_slide_pull_mm
    above = float(np.mean([one[2] for one in notes.values()]))

    def mean(mm):
        bore = replace(instrument, tuning_slide_pull_mm=mm).bore(Way("0", 1.0, 1))
        moved = 1 + 2 * MM * (mm - now) / length
        return float(np.mean([
            played_cents(up, peak_near(bore, instrument.air, resonance / moved), target)
            for resonance, target, up in notes.values()
        ]))  # fmt: skip

    before = mean(now)
    movable = has_mark(instrument.spec, "tuning_slide") and instrument.scene is None
    if not movable or abs(before) < IN_TUNE:
        return Tuned(above, before, before)
    low = -instrument.spec.tuning_slide_in_mm
    best = float(np.clip(round(falling_to_zero(mean, low, FURTHEST_OUT)[0]), low, FURTHEST_OUT))
    if best == now:
        return Tuned(above, before, before)
    after = mean(best)
    return Tuned(above, after, before, best, abs(after) >= IN_TUNE)
