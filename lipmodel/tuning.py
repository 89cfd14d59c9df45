"""What a player sounds with a fingering: cents from equal temperament, slides pulled as usual.

A held note rests `resting_cents` of its player above the resonance (`lips.py`).  On 1-3 and
1-2-3 the third valve's slide is pulled, on 1-2 the first valve's, as far as it takes and as far
as it goes (common practice, no published source).
"""

from dataclasses import dataclass

import numpy as np

from lipmodel import fingering
from lipmodel.acoustics.brassiness import brassiness
from lipmodel.acoustics.impedance import impedance
from lipmodel.acoustics.resonances import Resonance
from lipmodel.air import Air, AirColumn
from lipmodel.borefile import has_mark, to_bore, valve_numbers
from lipmodel.build import kept_resonances
from lipmodel.errors import SceneError
from lipmodel.fingering import SEMITONES, Way
from lipmodel.lips import PLAYERS
from lipmodel.sections import BoreFile
from lipmodel.units import MM, cents, nearest_note, note_frequency, parse_note

PULLS = {"12": "first", "13": "third", "123": "third"}  # common practice, no published source
LONGEST_PULL_MM = {"first": 15.0, "third": 25.0}  # common practice, no published source
UNUSUAL = {7: 34, 11: 42}  # partials far off equal temperament, semitones above the first
ALL_SEMITONES = SEMITONES | UNUSUAL
MOST_UNUSUAL = 60.0  # cents: a seventh further off is no alternative
NATURAL = 50.0  # cents: a resonance of a bare bore belongs to the nearest note
OTHER_NOTE = 100.0  # cents: a resonance further off is another note's
SPREAD = np.arange(-3, 4)  # points at a time on the way up to a peak
STEPS = (15.0, 5.0, 2.0)  # cents between them, ever closer
MOST_CLIMBS = 20
CLOSE = 0.05  # cents
LOWEST_PARTIAL, HIGHEST_PARTIAL = 2, 8  # of a chart without a compass


@dataclass(frozen=True)
class Setup:
    """An instrument as it is played: bore file, air, A4 in Hz, tuning slide pulled, mm."""

    spec: BoreFile
    air: Air | AirColumn
    a4: float = 440.0
    tuning_slide_pull_mm: float = 0.0

    @property
    def rest(self) -> float:
        """Cents above its resonance at which the player's notes rest."""
        return resting_cents(self.spec)

    @property
    def natural(self) -> bool:
        """A bare bore: no valves, no slide, and nobody says what its first partial is."""
        spec = self.spec
        told = spec.kind == "instrument" or spec.fundamental is not None
        return not (told or valve_numbers(spec) or has_mark(spec, "slide"))

    def bore(self, way: Way, first=0.0, third=0.0):
        """The bore held for `way`, valve slides pulled by `first` and `third` mm."""
        return to_bore(
            self.spec,
            valves=way.valves,
            tuning_slide_pull_mm=self.tuning_slide_pull_mm,
            first_slide_pull_mm=first,
            third_slide_pull_mm=third,
            slide_position=way.slide_position,
        )


@dataclass(frozen=True)
class Option:
    """A way to a note and what it gives, cents from the note.

    cents: as players hold it; cents_unpulled: no valve slide pulled, the playing slide at its
    nominal position; resonance: that one's.  tuned_position is None without a playing slide.
    """

    way: Way
    resonance: Resonance
    cents: float
    cents_unpulled: float
    usual: bool
    first_slide_pull_mm: float = 0.0
    third_slide_pull_mm: float = 0.0
    tuned_position: float | None = None

    def row(self) -> dict:
        """The option as told in JSON."""
        return {
            "valves": self.way.valves,
            "slide_position": self.way.slide_position,
            "partial": self.way.partial,
            "cents": self.cents,
            "usual": self.usual,
            "cents_unpulled": self.cents_unpulled,
            "first_slide_pull_mm": round(self.first_slide_pull_mm, 1),
            "third_slide_pull_mm": round(self.third_slide_pull_mm, 1),
            "tuned_position": self.tuned_position and round(self.tuned_position, 2),
            "resonance_hz": self.resonance.frequency,
        }


def resting_cents(spec: BoreFile) -> float:
    """Cents above its resonance at which a held note of the calibrated player rests."""
    told = spec.resting_cents
    return PLAYERS[spec.player].resting_cents if told is None else told


def spoken(valves: str) -> str:
    """Valves as players say them: "open", "2", "1-3"."""
    return "open" if valves == "0" else "-".join(valves)


def series_fundamental(found) -> float | None:
    """Fundamental in Hz of the harmonic series that fits resonances 2 to 8 best (cents)."""
    used = [r for r in found if 2 <= r.n <= 8]
    if not used:
        return None
    return float(np.exp(np.mean([np.log(r.frequency / r.n) for r in used])))


def brassiness_of(spec: BoreFile, bore, air) -> float | None:
    """`acoustics.brassiness` of a bore held as its file says: an instrument's over c/(2 f) of
    the pitch it is built in, a bare bore's over its own length."""
    if spec.kind != "instrument":
        return brassiness(bore)
    base = series_fundamental(kept_resonances(bore, air)) or 1.0
    speed = float(np.ravel(air.along(np.array([1.0])).sound_speed)[0])
    return brassiness(bore, speed / (2 * base))


def held(setup: Setup, way: Way, semitone: int) -> Resonance | None:
    """The resonance that holds a sounding semitone number, or None where the bore has none.

    Of an instrument it is the one numbered as the partial; of another bore, whose peaks may lie
    off the harmonics, the one nearest to the note within a semitone.
    """
    found = kept_resonances(setup.bore(way), setup.air)
    if setup.spec.kind == "instrument" or setup.natural:
        return next((r for r in found if r.n == way.partial), None)
    target = note_frequency(semitone, setup.a4) * 2 ** (-setup.rest / 1200)
    near = min(found, key=lambda r: abs(cents(r.frequency, target)), default=None)
    if near is None or abs(cents(near.frequency, target)) > OTHER_NOTE:
        return None
    return near


def played_cents(setup: Setup, frequency: float, target: float) -> float:
    """Cents above `target` Hz at which the player rests on a resonance at `frequency` Hz."""
    return cents(frequency, target) + setup.rest


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


def pulled(setup: Setup, way: Way, resonance: Resonance, target: float, slide: str):
    """(mm, cents): "first" or "third" valve slide out until `target` Hz is in tune, or as far
    as it goes; 0 where the note is not sharp."""
    before = resonance.frequency

    def off(mm):
        if not mm:
            return played_cents(setup, before, target)
        bore = setup.bore(way, **{slide: mm})
        expected = before / (1 + 2 * MM * mm / setup.bore(way).length)
        return played_cents(setup, peak_near(bore, setup.air, expected), target)

    return falling_to_zero(off, 0.0, LONGEST_PULL_MM[slide])


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


def tuned_position(
    spec: BoreFile, air, way: Way, target_hz: float, *, tuning_slide_pull_mm: float = 0.0
) -> float:
    """Slide position (1 to 7) at which `way`'s partial, `resting_cents` above its resonance,
    sounds `target_hz`; the nearest end where travel or position 1 stops the slide.

    SceneError if the bore has no slide, ValueError if it has no such resonance.
    """
    if not has_mark(spec, "slide"):
        raise SceneError(f'"{spec.title}" has no slide; expected a bore with one')
    setup = Setup(spec, air, 440.0, tuning_slide_pull_mm)
    way = _within(setup, way)
    semitone, off = nearest_note(target_hz)
    exact = Setup(spec, air, 440.0 * 2 ** (off / 1200), tuning_slide_pull_mm)
    resonance = held(exact, way, semitone)
    if resonance is None:
        raise ValueError(f"no resonance for partial {way.partial}")
    return _tuned(setup, way, resonance, target_hz)[0]


def _within(setup: Setup, way: Way) -> Way:
    """`way` with the slide as far as it goes."""
    highest = highest_position(setup.spec, setup.tuning_slide_pull_mm)
    return Way(way.valves, min(way.slide_position, highest), way.partial)


def _tuned(setup: Setup, way: Way, resonance: Resonance, target: float) -> tuple[float, float]:
    nominal = way.slide_position

    def off(position):
        expected = resonance.frequency * 2 ** ((nominal - position) / 12)
        bore = setup.bore(Way(way.valves, position, way.partial))
        return played_cents(setup, peak_near(bore, setup.air, expected), target)

    highest = highest_position(setup.spec, setup.tuning_slide_pull_mm)
    return falling_to_zero(off, max(1.0, nominal - 1), min(highest, nominal + 1))


def ways(setup: Setup, semitone: int) -> list[Way]:
    """All ways to a sounding semitone number: those of `fingering.ways`, then those on partials
    7 and 11, whatever they are off; of a bare bore the resonance that lies there."""
    if setup.natural:
        found = kept_resonances(setup.bore(Way("0", 1.0, 1)), setup.air)
        target = note_frequency(semitone, setup.a4)
        off = {r.n: played_cents(setup, r.frequency, target) for r in found}
        return [Way("0", 1.0, n) for n, value in off.items() if -NATURAL < value <= NATURAL]
    spec = setup.spec
    first = fingering.ways(spec, semitone)
    above = semitone - fingering.fundamental(spec)
    slide = has_mark(spec, "slide")
    held_as = [("0", 0)] if slide else fingering.combinations_of(spec)
    more = [
        Way(valves, 1.0, n)
        for valves, lowered in held_as
        for n, semitones in UNUSUAL.items()
        if above + lowered == semitones
    ]
    return first + [way for way in more if way not in first]


def option(setup: Setup, way: Way, semitone: int, usual: bool = False) -> Option | None:
    """What `way` gives for a sounding semitone number, or None where the bore does not have it:
    no such resonance, or a slide that ends half a position or more before."""
    nominal, way = way.slide_position, _within(setup, way)
    if nominal - way.slide_position > 0.5:
        return None
    resonance = held(setup, way, semitone)
    if resonance is None:
        return None
    target = note_frequency(semitone, setup.a4)
    unpulled = played_cents(setup, resonance.frequency, target)
    if has_mark(setup.spec, "slide"):
        position, off = _tuned(setup, way, resonance, target)
        return Option(way, resonance, off, unpulled, usual, tuned_position=position)
    slide = PULLS.get(way.valves)
    if slide is None or 3 not in valve_numbers(setup.spec):
        return Option(way, resonance, unpulled, unpulled, usual)
    mm, off = pulled(setup, way, resonance, target, slide)
    return Option(way, resonance, off, unpulled, usual, **{f"{slide}_slide_pull_mm": mm})


def options(setup: Setup, semitone: int) -> list[Option]:
    """Every way to a sounding semitone number: the usual one first, then the nearest in pitch.

    Partials 7 and 11 of valves are listed only within 60 cents.
    """
    found = []
    possible = ways(setup, semitone)
    first = possible[0] if setup.natural and possible else fingering.usual(setup.spec, semitone)
    for way in possible:
        one = option(setup, way, semitone, way == first)
        far = one is None or (way.partial in UNUSUAL and abs(one.cents) > MOST_UNUSUAL)
        if not far or (one is not None and one.usual):
            found.append(one)
    return sorted(found, key=lambda o: (not o.usual, abs(o.cents)))


def compass(setup: Setup) -> range:
    """Sounding semitone numbers of a chart: the bore file's compass; else from the second
    partial with all the tube there is to the eighth open (of a bare bore, its resonances)."""
    spec = setup.spec
    if spec.compass is not None:
        low, high = (parse_note(name) for name in spec.compass)
        return range(low, high + 1)
    if setup.natural:
        found = kept_resonances(setup.bore(Way("0", 1.0, 1)), setup.air)
        used = [r for r in found if LOWEST_PARTIAL <= r.n <= HIGHEST_PARTIAL] or found
        rest = 2 ** (setup.rest / 1200)
        numbers = [nearest_note(r.frequency * rest, setup.a4)[0] for r in used]
        return range(min(numbers), max(numbers) + 1) if numbers else range(0)
    base = fingering.fundamental(spec)
    return range(
        base + SEMITONES[LOWEST_PARTIAL] - lowest_by(spec), base + SEMITONES[HIGHEST_PARTIAL] + 1
    )


def lowest_by(spec: BoreFile) -> int:
    """Semitones by which all valves, or the slide at its last whole position, lower a note."""
    if has_mark(spec, "slide"):
        return round(highest_position(spec)) - 1
    return max(lowered for _, lowered in fingering.combinations_of(spec))
