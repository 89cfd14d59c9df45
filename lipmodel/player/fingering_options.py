"""Every way to a note and what it gives."""

from dataclasses import dataclass, field

from lipmodel.acoustics.resonances import Resonance
from lipmodel.bore.bore_file import BoreFile
from lipmodel.bore.valves import has_mark, valve_numbers
from lipmodel.player import fingering
from lipmodel.player.cached import played_resonances
from lipmodel.player.fingering import PEDAL, SEMITONES, Way, serves
from lipmodel.player.instrument import Instrument
from lipmodel.player.resting import MARKINGS, Pedal, pedal, rest
from lipmodel.player.tuning import (
    highest_position,
    played_cents,
    pulled,
    resonance_of,
    tuned_slide,
    within_reach,
)
from lipmodel.units import cents, nearest_note, note_frequency, parse_note

PULLS = {"12": "first", "13": "third", "123": "third"}  # common practice, no published source
UNUSUAL = {
    7: 34,
    11: 42,
    13: 44,
    14: 46,
    15: 47,
}  # partials far off equal temperament, semitones above the first
ALL_SEMITONES = SEMITONES | UNUSUAL
FURTHEST = 60.0  # cents: what is further off is no alternative
HOPELESS = 100.0  # cents from the note by the player's mean rest: not even played
FAR = 0.25  # of a position
NATURAL = 50.0  # cents: a resonance of a bare bore belongs to the nearest note
PEDALS = 3  # semitones below the open pedal note, told in a chart: common practice, as above
LOWEST_PARTIAL, HIGHEST_PARTIAL = 2, 8  # of a chart without a compass


@dataclass(frozen=True)
class Option:
    """A way to a note and what it gives, cents from the note.

    cents: at mf, as players hold it; cents_unpulled: no valve slide pulled, the playing slide at
    its nominal position; resonance: that one's.  tuned_position is None without a playing slide.
    rest: cents above the resonance, as held; rests: cents_unpulled by dynamic; empty where no slot
    is found, and `rest` is then the player's own.  Of a pedal note cents are None: the lips set it.
    """

    way: Way
    resonance: Resonance
    cents: float | None
    cents_unpulled: float | None
    usual: bool
    rest: float = 0.0
    rests: dict[str, float] = field(default_factory=dict)
    pedal: Pedal | None = None
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
            "rest_cents": self.rest,
            "rests": dict(self.rests),
            "pedal": self.pedal and {"from": self.pedal.dynamic, "lock": self.pedal.lock},
        }

    @property
    def off(self) -> float:
        """Cents from the note, without sign; a pedal note is where the lips put it."""
        return abs(self.cents or 0.0)


def spoken(valves: str) -> str:
    """Valves as players say them: "open", "2", "1-3"."""
    return "open" if valves == "0" else "-".join(valves)


def ways(instrument: Instrument, semitone: int) -> list[Way]:
    """All ways to a sounding semitone number: those of `fingering.ways`, then those on the
    partials that are far off equal temperament, whatever they are off; of a bare bore the
    resonance that lies there."""
    if instrument.natural:
        found = played_resonances(instrument.bore(Way("0", 1.0, 1)), instrument.air)
        target = note_frequency(semitone, instrument.a4)
        off = {r.n: played_cents(instrument.rest, r.frequency, target) for r in found}
        return [Way("0", 1.0, n) for n, value in off.items() if -NATURAL < value <= NATURAL]
    spec = instrument.spec
    first = fingering.ways(spec, semitone)
    above = semitone - fingering.fundamental(spec)
    slide = has_mark(spec, "slide")
    held_as = [("0", 0)] if slide else fingering.combinations_of(spec)
    more = [
        Way(valves, 1.0, n)
        for valves, lowered in held_as
        for n, semitones in UNUSUAL.items()
        if above + lowered == semitones and serves(n, above)
    ]
    return first + [way for way in more if way not in first]


def option(instrument: Instrument, way: Way, semitone: int, usual: bool = False) -> Option | None:
    """What `way` gives for a sounding semitone number, or None where the bore does not have it:
    no such resonance, or a slide that ends half a position or more before."""
    nominal, way = way.slide_position, within_reach(instrument, way)
    if nominal - way.slide_position > 0.5:
        return None
    target = note_frequency(semitone, instrument.a4)
    if way.partial == PEDAL and not instrument.natural:
        return _pedal_option(instrument, way, target, usual)
    resonance = resonance_of(instrument, way, semitone)
    if resonance is None:
        return None
    peak = Way(way.valves, way.slide_position, resonance.n)
    found = {m: rest(instrument, peak, target, m) for m in (MARKINGS if usual else MARKINGS[1:2])}
    rests = {m: cents(one.frequency, target) for m, one in found.items() if one is not None}
    above = rests.get("mf", cents(resonance.frequency, target) + instrument.rest)
    above -= cents(resonance.frequency, target)
    return _held(instrument, way, resonance, target, usual, above, rests)


def _held(instrument, way, resonance, target, usual, above, rests) -> Option:
    """The option with its slides where they bring it in tune."""
    unpulled = played_cents(above, resonance.frequency, target)
    told = {"rest": above, "rests": rests}
    if has_mark(instrument.spec, "slide"):
        position, off = tuned_slide(instrument, way, resonance, target, above)
        there = Way(way.valves, position, resonance.n)
        slot = rest(instrument, there, target) if abs(position - way.slide_position) > FAR else None
        near = slot and resonance_of(instrument, there, nearest_note(target, instrument.a4)[0])
        if near:  # so far from its nominal position the note rests otherwise
            told["rest"] = cents(slot.frequency, near.frequency)
            position, off = tuned_slide(instrument, way, resonance, target, told["rest"])
        return Option(way, resonance, off, unpulled, usual, tuned_position=position, **told)
    slide = PULLS.get(way.valves)
    if slide is None or not instrument.spec.valves.throws_mm[slide]:
        return Option(way, resonance, unpulled, unpulled, usual, **told)
    mm, off = pulled(instrument, way, resonance, target, slide, above)
    told[f"{slide}_slide_pull_mm"] = mm
    return Option(way, resonance, off, unpulled, usual, **told)


def _pedal_option(instrument: Instrument, way: Way, target: float, usual: bool) -> Option | None:
    found = played_resonances(instrument.bore(way), instrument.air)
    speaks = pedal(instrument, way, target)
    if speaks is None or not found:
        return None
    tuned = way.slide_position if has_mark(instrument.spec, "slide") else None
    return Option(way, found[0], None, None, usual, pedal=speaks, tuned_position=tuned)


def options(instrument: Instrument, semitone: int, say=lambda words: None) -> list[Option]:
    """Every way to a sounding semitone number: the usual one first, then the nearest in pitch.

    Other ways than the usual one are listed only within 60 cents.  `say` is told what is played.
    """
    name, slide = instrument.names(semitone)["written"], has_mark(instrument.spec, "slide")
    found = []
    possible = ways(instrument, semitone)
    bare = instrument.natural and possible
    first = possible[0] if bare else fingering.usual(instrument.spec, semitone)
    for way in possible:
        if way != first and _hopeless(instrument, way, semitone):
            continue
        held = f"position {way.slide_position:g}" if slide else spoken(way.valves)
        say(f"playing {name}, {held}")
        one = option(instrument, way, semitone, way == first)
        if one is not None and (one.usual or one.off <= FURTHEST):
            found.append(one)
    return sorted(found, key=lambda o: (not o.usual, o.off))


def _hopeless(instrument: Instrument, way: Way, semitone: int) -> bool:
    """Whether a way with valves lies so far off that it need not be played to be left out."""
    if way.partial == PEDAL or has_mark(instrument.spec, "slide") or instrument.natural:
        return False
    resonance = resonance_of(instrument, way, semitone)
    target = note_frequency(semitone, instrument.a4)
    return (
        resonance is None
        or abs(played_cents(instrument.rest, resonance.frequency, target)) > HOPELESS
    )


def compass(instrument: Instrument) -> range:
    """Sounding semitone numbers of a chart: the bore file's compass; else from the second
    partial with all the tube there is to the eighth open (of a bare bore, its resonances)."""
    spec = instrument.spec
    if spec.compass is not None:
        low, high = (parse_note(name) for name in spec.compass)
        return range(low, high + 1)
    if instrument.natural:
        found = played_resonances(instrument.bore(Way("0", 1.0, 1)), instrument.air)
        used = [r for r in found if LOWEST_PARTIAL <= r.n <= HIGHEST_PARTIAL] or found
        rest = 2 ** (instrument.rest / 1200)
        numbers = [nearest_note(r.frequency * rest, instrument.a4)[0] for r in used]
        return range(min(numbers), max(numbers) + 1) if numbers else range(0)
    base = fingering.fundamental(spec)
    return range(
        base + SEMITONES[LOWEST_PARTIAL] - lowest_by(spec), base + SEMITONES[HIGHEST_PARTIAL] + 1
    )


def pedals(instrument: Instrument) -> range:
    """Sounding semitone numbers of the pedal notes that a chart tells, below its compass: of
    instruments with a large mouthpiece, on which players use them (common practice, no published
    source); none where the compass reaches them."""
    spec = instrument.spec
    plays = valve_numbers(spec) or has_mark(spec, "slide")
    if instrument.natural or spec.player != "large" or not plays:
        return range(0)
    first = fingering.fundamental(spec)
    lowest = max(compass(instrument).start, 0)
    return range(max(first - PEDALS, 0), min(first + 1, lowest))


def lowest_by(spec: BoreFile) -> int:
    """Semitones by which all valves, or the slide at its last whole position, lower a note."""
    if has_mark(spec, "slide"):
        return round(highest_position(spec)) - 1
    return max(lowered for _, lowered in fingering.combinations_of(spec))
