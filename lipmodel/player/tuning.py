"""What a player sounds with a fingering: cents from equal temperament, slides pulled as usual.

A held note rests some cents above its resonance: `rest` here, played by `resting.py`.  On 1-3 and
1-2-3 the third valve's slide is pulled, on 1-2 the first valve's, as far as it takes and as far
as it can be moved while playing (common practice, no published source).
"""

from dataclasses import replace

import numpy as np

from lipmodel.acoustics.impedance import impedance
from lipmodel.acoustics.resonances import Resonance
from lipmodel.bore.assembly import to_bore
from lipmodel.bore.bore_file import BoreFile
from lipmodel.bore.valves import has_mark
from lipmodel.errors import SceneError
from lipmodel.player.cached import played_resonances
from lipmodel.player.fingering import Way
from lipmodel.player.instrument import Instrument
from lipmodel.units import MM, cents, nearest_note, note_frequency

OTHER_NOTE = 100.0  # cents: a resonance further off is another note's
SPREAD = np.arange(-3, 4)  # points at a time on the way up to a peak
STEPS = (15.0, 5.0, 2.0)  # cents between them, ever closer
MOST_CLIMBS = 20
CLOSE = 0.05  # cents


def resonance_of(instrument: Instrument, way: Way, semitone: int) -> Resonance | None:
    """The resonance that holds a sounding semitone number, or None where the bore has none.

    Of an instrument it is the one numbered as the partial; of another bore, whose peaks may lie
    off the harmonics, the one nearest to the note within a semitone.
    """
    found = played_resonances(instrument.bore(way), instrument.air)
    if instrument.spec.kind == "instrument" or instrument.natural:
        return next((r for r in found if r.n == way.partial), None)
    target = note_frequency(semitone, instrument.a4) * 2 ** (-instrument.rest / 1200)
    near = min(found, key=lambda r: abs(cents(r.frequency, target)), default=None)
    if near is None or abs(cents(near.frequency, target)) > OTHER_NOTE:
        return None
    return near


def played_cents(rest: float, frequency: float, target: float) -> float:
    """Cents above `target` Hz of a note that rests `rest` cents above a resonance of
    `frequency` Hz."""
    return cents(frequency, target) + rest


def peak_near(bore, air, expected: float) -> float:
    """The peak of |Z| up the hill from `expected` Hz, in Hz, within 0.01 cent.

    Seven frequencies at a time: a whole search for resonances takes a hundred times as long.
    """
    middle, step = expected, STEPS[0]
    for _ in range(MOST_CLIMBS):
        frequency = middle * 2 ** (step * SPREAD / 1200)
        size = np.log(np.abs(impedance(bore, air, frequency)))
        best = int(np.argmax(size))
        middle = float(frequency[best])
        if 0 < best < len(SPREAD) - 1:
            if step == STEPS[-1]:
                left, top, right = size[best - 1 : best + 2]
                return middle * 2 ** (step * 0.5 * (left - right) / (left - 2 * top + right) / 1200)
            step = STEPS[STEPS.index(step) + 1]
    return middle


def pulled(
    instrument: Instrument, way: Way, resonance: Resonance, target: float, slide: str, rest: float
):
    """(mm, cents): "first" or "third" valve slide out until `target` Hz is in tune, or as far
    as it moves; 0 where the note is not sharp."""
    before = resonance.frequency

    def off(mm):
        if not mm:
            return played_cents(rest, before, target)
        bore = instrument.bore(way, **{slide: mm})
        expected = before / (1 + 2 * MM * mm / instrument.bore(way).length)
        return played_cents(rest, peak_near(bore, instrument.air, expected), target)

    return falling_to_zero(off, 0.0, instrument.spec.valves.throws_mm[slide])


def falling_to_zero(off, low: float, high: float) -> tuple[float, float]:
    """(x, off(x)) where falling `off` is 0 within 0.05, or the end of the range nearest to it."""
    at_low = off(low)
    if at_low <= CLOSE:
        return low, at_low
    at_high = off(high)
    if at_high >= -CLOSE:
        return high, at_high
    for _ in range(12):
        x = low + (high - low) * at_low / (at_low - at_high)
        here = off(x)
        if abs(here) <= CLOSE:
            break
        if here > 0:
            low, at_low = x, here
        else:
            high, at_high = x, here
    return x, here


def highest_position(spec: BoreFile, tuning_slide_pull_mm: float = 0.0) -> float:
    """The furthest slide position that the slide's travel allows, at most 7; 1 without one."""
    if not has_mark(spec, "slide"):
        return 1.0
    if spec.slide_travel_mm is None:
        return 7.0
    length = to_bore(spec, tuning_slide_pull_mm=tuning_slide_pull_mm).length
    # a hair less, so that the position itself is within reach
    return min(7.0, 1 + 12 * np.log2(1 + 2 * MM * spec.slide_travel_mm / length) - 1e-9)


def tuned_position(instrument: Instrument, way: Way, target_hz: float) -> float:
    """Slide position (1 to 7) at which `way`'s partial, `resting_cents` above its resonance,
    sounds `target_hz`; the nearest end where travel or position 1 stops the slide.

    SceneError if the bore has no slide, ValueError if it has no such resonance.
    """
    if not has_mark(instrument.spec, "slide"):
        raise SceneError(f'"{instrument.spec.title}" has no slide; expected a bore with one')
    way = within_reach(instrument, way)
    semitone, off = nearest_note(target_hz)
    resonance = resonance_of(replace(instrument, a4=440.0 * 2 ** (off / 1200)), way, semitone)
    if resonance is None:
        raise ValueError(f"no resonance for partial {way.partial}")
    return tuned_slide(instrument, way, resonance, target_hz, instrument.rest)[0]


def within_reach(instrument: Instrument, way: Way) -> Way:
    """`way` with the slide as far as it goes."""
    highest = highest_position(instrument.spec, instrument.tuning_slide_pull_mm)
    return Way(way.valves, min(way.slide_position, highest), way.partial)


def tuned_slide(
    instrument: Instrument, way: Way, resonance: Resonance, target: float, rest: float
) -> tuple[float, float]:
    """(slide position, cents) nearest to `target` Hz within a position of `way`'s."""
    nominal = way.slide_position

    def off(position):
        expected = resonance.frequency * 2 ** ((nominal - position) / 12)
        bore = instrument.bore(Way(way.valves, position, way.partial))
        return played_cents(rest, peak_near(bore, instrument.air, expected), target)

    highest = highest_position(instrument.spec, instrument.tuning_slide_pull_mm)
    return falling_to_zero(off, max(1.0, nominal - 1), min(highest, nominal + 1))
