"""Why a note is sharp or flat: its cents as a sum of causes.

For partial n at resonance f_v, the same one open f_o, the series fundamental f_1 of the open
bore (best fit to resonances 2 to 8) and the nominal first partial N:

  played = 1200 log2(f_v/N') + rest,  N' = N 2^((S_n - s)/12), s semitones lowered,
  rest the cents above f_v at which the lips play at mf (`player.resting`), r its open mean

falls exactly into the harmonic (1200 log2 n - 100 S_n), the combination of valves each correct
alone (100 s - 1200 log2(1 + sum(2^(s_i/12) - 1)), textbook), this instrument's lengths against
those (l_i over c/(2 f_1)), what is left of 1200 log2(f_v/f_o), f_o against n f_1, and
1200 log2(f_1/N) + r (where the whole instrument stands), and rest - r (what the lips do with this
resonance that they do not with the open ones).  Ours: the order in which they are taken apart.
"""

from dataclasses import dataclass

import numpy as np

from lipmodel.bore.valves import has_mark, valve_length
from lipmodel.player import fingering
from lipmodel.player.cached import played_resonances
from lipmodel.player.fingering import LOWERS, Way
from lipmodel.player.fingering_options import ALL_SEMITONES, Option
from lipmodel.player.instrument import Instrument, series_fundamental
from lipmodel.player.tuning import resonance_of
from lipmodel.units import cents, note_frequency, sharp_or_flat

REFERENCE_C = 22.0
TOLD = 2.0  # cents: smaller ones are not worth a sentence
NUMBERS = ("no", "one", "two", "three", "four")
ENDINGS = {1: "st", 2: "nd", 3: "rd"}
# Cents of 1-3 and 1-2-3 on the second partial of a B flat trumpet, third valve slide in: with the
# third valve a little long as makers build it, and with every valve exact
SOURCE = "an article on valve-combination tuning with cents tables"
PUBLISHED = {"13": (15.0, 30.0), "123": (38.0, 54.0)}
DISAGREES = 15.0  # cents


@dataclass(frozen=True)
class Reason:
    """A cause, the cents it adds, and both in a plain sentence."""

    cause: str
    cents: float
    sentence: str


def combination_sharpness(valves: str) -> float:
    """Cents by which valves, each of the right length alone, are sharp together (textbook):
    10.6 for 1-2, 53.6 for 1-2-3."""
    lowered = [LOWERS[int(v)] for v in valves.strip("0")]
    return 100.0 * sum(lowered) - 1200 * np.log2(1 + sum(2 ** (s / 12) - 1 for s in lowered))


def reasons(instrument: Instrument, option: Option, semitone: int, above: float) -> list[Reason]:
    """Causes of the cents of `option`, no slide pulled; they add up to `cents_unpulled`.
    `above`: cents above their resonances at which the open notes rest on average.

    What differs from the same instrument in air of 22 degrees C is told as temperature.
    """
    at_22 = instrument.at(REFERENCE_C)
    result = []
    frequency, target = option.resonance.frequency, note_frequency(semitone, instrument.a4)
    rest = option.cents_unpulled - cents(frequency, target)
    if instrument.air != at_22.air:
        known = played_resonances(at_22.bore(option.way), at_22.air)
        same = resonance_of(at_22, option.way, semitone)
        reference = next((r for r in known if r.n == option.resonance.n), same)
        moved = cents(frequency, reference.frequency)
        frequency = reference.frequency
        start = f"Air at {instrument.celsius:g} degrees C instead of {REFERENCE_C:g} makes it"
        result.append(Reason("temperature", moved, f"{start} {sharp_or_flat(moved)}."))
    open_found = played_resonances(at_22.bore(Way("0", 1.0, option.way.partial)), at_22.air)
    base = series_fundamental(open_found)
    if instrument.natural or base is None:
        return [*_of_a_bare_bore(option, frequency, target, rest), *result]
    open_one = next((r for r in open_found if r.n == option.resonance.n), None)
    partial = option.way.partial
    open_frequency = open_one.frequency if open_one else partial * base
    lowered = lowered_by(instrument, option.way)
    nominal = target * 2 ** ((lowered - ALL_SEMITONES[partial]) / 12)
    result = [
        _harmonic(partial),
        *_of_valves(at_22, option.way, base, cents(frequency, open_frequency), lowered),
        _of_the_mode(partial, cents(open_frequency, partial * base)),
        _of_the_whole(at_22, cents(base, nominal) + above),
        _of_the_lips(rest, above),
        *result,
    ]
    return result


def lowered_by(instrument: Instrument, way: Way) -> float:
    """Semitones by which `way` lowers the open notes, nominally."""
    if has_mark(instrument.spec, "slide"):
        return way.slide_position - 1
    return float(dict(fingering.combinations_of(instrument.spec))[way.valves])


def _harmonic(n: int) -> Reason:
    off = 1200 * np.log2(n) - 100.0 * ALL_SEMITONES[n]
    sentence = f"The {ordinal(n)} partial is {sharp_or_flat(off)} of equal temperament by nature."
    return Reason("harmonic", float(off), sentence)


def ordinal(n: int) -> str:
    """ "2nd", "3rd", "11th"."""
    return f"{n}{'th' if n in (11, 12, 13) else ENDINGS.get(n % 10, 'th')}"


def _of_a_bare_bore(option, frequency, target, rest) -> list[Reason]:
    off = cents(frequency, target)
    which = ordinal(option.resonance.n)
    start = f"The bore's {which} resonance is {sharp_or_flat(off)} of the note"
    return [
        Reason("resonance", off, f"{start}: nothing tunes a bare tube."),
        Reason("lips", rest, f"At mf the lips play {_above(rest)} that resonance."),
    ]


def _of_valves(instrument, way, base, moved, lowered) -> list[Reason]:
    """The combination, this instrument's lengths, and what the added tube does to this mode."""
    if has_mark(instrument.spec, "slide"):
        if way.slide_position == 1:
            return []
        off = moved + 100 * lowered
        sentence = (
            f"The slide at position {way.slide_position:g} by rule, equal semitones of length, "
            f"leaves this partial {sharp_or_flat(off)}."
        )
        return [Reason("slide position", off, sentence)]
    if way.valves == "0":
        return []
    speed = float(np.mean(instrument.air.along(np.linspace(0, 1, 11)).sound_speed))
    law = -1200 * np.log2(1 + valve_length(instrument.spec, way.valves) * 2 * base / speed)
    sharp = combination_sharpness(way.valves)
    built = float(law + 100 * lowered - sharp)
    count = len(way.valves)
    result = []
    if count > 1:
        both = "two valves" if count == 2 else f"{NUMBERS[count]} valves"
        sentence = f"The {both} together add too little tube: {sharp_or_flat(sharp)}."
        result.append(Reason("valve combination", float(sharp), sentence))
    return [*result, _of_lengths(built, count), _of_added_tube(float(moved - law))]


def _of_lengths(off: float, count: int) -> Reason:
    one, alone = "tubes of the valves are", "each would need alone"
    if count == 1:
        one, alone = "valve's own tube is", "exact semitones need"
    start = f"The {one} {'longer' if off < 0 else 'shorter'} than {alone}"
    return Reason("valve lengths", off, f"{start}: {sharp_or_flat(off)}.")


def _of_added_tube(off: float) -> Reason:
    more = "more" if off < 0 else "less"
    sentence = (
        f"Straight tube put into a bore that widens lowers this partial {more} than its length "
        f"alone: {sharp_or_flat(off)}."
    )
    return Reason("added tube", off, sentence)


def _of_the_mode(n: int, off: float) -> Reason:
    sentence = (
        f"The bore sets its {ordinal(n)} resonance {sharp_or_flat(off)} of the series that its "
        "open resonances fit best."
    )
    return Reason("resonance in the series", off, sentence)


def _above(rest: float) -> str:
    """ "12 cents above", "3 cents below", "on"."""
    words = sharp_or_flat(rest).replace("in tune", "on")
    return words.replace("sharp", "above").replace("flat", "below")


def _of_the_whole(instrument: Instrument, off: float) -> Reason:
    mm = instrument.tuning_slide_pull_mm
    slide = f" with its tuning slide {'out' if mm > 0 else 'in'} {abs(mm):g} mm" if mm else ""
    sentence = f"The whole instrument stands {sharp_or_flat(off)}{slide}."
    return Reason("whole instrument", off, sentence)


def _of_the_lips(rest: float, above: float) -> Reason:
    sentence = (
        f"At mf the lips play it {_above(rest)} its resonance, the open notes {_above(above)} "
        f"theirs on average: {sharp_or_flat(rest - above)}."
    )
    return Reason("lips", rest - above, sentence)


def sentences_of(given: list[Reason]) -> list[str]:
    """What the reasons say, the largest first; those under two cents are left out."""
    order = sorted(given, key=lambda r: -abs(r.cents))
    return [r.sentence for r in order if abs(r.cents) >= TOLD]


def published(instrument: Instrument, option: Option) -> dict | None:
    """Published cents of 1-3 and 1-2-3 on a B flat trumpet, of the second partial and compared
    with the third too, or None."""
    spec, way = instrument.spec, option.way
    three = tuple(spec.valves.lengths_mm) == (1, 2, 3) and spec.kind == "instrument"
    small = spec.player == "small" and spec.transposition_semitones == -2
    if not (three and small and way.partial in (2, 3) and way.valves in PUBLISHED):
        return None
    long, exact = PUBLISHED[way.valves]
    return {"long_third_valve_cents": long, "exact_valves_cents": exact, "source": SOURCE}


def published_sentence(published: dict, off: float) -> str:
    """What is published for this fingering, and whether the model agrees within 15 cents."""
    long, exact = published["long_third_valve_cents"], published["exact_valves_cents"]
    start = (
        f"Published of the second partial ({published['source']}): {long:.0f} cents sharp with a "
        f"long third slide, {exact:.0f} with exact valves"
    )
    if min(abs(off - long), abs(off - exact)) <= DISAGREES:
        return f"{start}; the model agrees within {DISAGREES:.0f} cents."
    return f"{start}; the model gives {sharp_or_flat(off)} and disagrees."
