"""What brings a note in tune, or lets it speak, and by how many cents."""

from dataclasses import dataclass, replace

import numpy as np

from lipmodel.bore.valves import has_mark
from lipmodel.player.fingering import Way
from lipmodel.player.fingering_options import Option
from lipmodel.player.instrument import Instrument
from lipmodel.player.tuning import LONGEST_PULL_MM, falling_to_zero, peak_near, played_cents, pulled
from lipmodel.studies.chart import option_words
from lipmodel.units import MM, note_frequency

WORTH = 1.0  # cents: a note nearer than that is left alone
COMFORTABLE_LIP = 30.0  # cents; common practice, no published source
TUNING_SLIDE_MM = 30.0  # common practice, no published source
MOST_FINGERINGS = 2


@dataclass(frozen=True)
class Remedy:
    """What to do, how many cents it moves the note, and what it leaves.

    way and pulls: how the instrument is then held; lipped: by the lips, cents.
    """

    do: str
    cents: float
    leaves_cents: float
    way: Way
    pulls: tuple[tuple[str, float], ...] = ()
    tuning_slide_pull_mm: float | None = None
    lipped: float = 0.0

    def row(self) -> dict:
        """The remedy as told in JSON."""
        return {"do": self.do, "cents": self.cents, "leaves_cents": self.leaves_cents}


def remedies(
    instrument: Instrument, option: Option, others: list[Option], semitone: int
) -> list[Remedy]:
    """What helps against the cents of `option`, no slide pulled: its own slides first, then the
    other ways to the note that are nearer, the lips, the tuning slide.  None under one cent."""
    off = option.cents_unpulled
    if abs(off) < WORTH:
        return []
    target = note_frequency(semitone, instrument.a4)
    helps = [_position(option)] if option.tuned_position is not None else []
    if off > 0:
        helps += [_slide(instrument, option, target, name, valve) for name, valve in
                  (("third", "3"), ("first", "1")) if valve in option.way.valves]  # fmt: skip
    better = [o for o in others if o.way != option.way and abs(o.cents) < abs(off) - WORTH]
    helps += [_other(o, off) for o in sorted(better, key=lambda o: abs(o.cents))[:MOST_FINGERINGS]]
    helps.append(_lips(option))
    if has_mark(instrument.spec, "tuning_slide"):
        helps += _tuning_slide(instrument, option, target)
    return [r for r in helps if abs(r.cents) >= WORTH]


def best(remedies: list[Remedy]) -> Remedy | None:
    """The remedy that leaves least; of those within a cent the first."""
    least = min((abs(r.leaves_cents) for r in remedies), default=0.0)
    return next((r for r in remedies if abs(r.leaves_cents) <= least + WORTH), None)


def _position(option: Option) -> Remedy:
    way, tuned = option.way, option.tuned_position
    do = f"slide to position {tuned:.2f} instead of {way.slide_position:g}"
    moved = option.cents - option.cents_unpulled
    return Remedy(do, moved, option.cents, Way(way.valves, tuned, way.partial))


def _slide(instrument, option, target, name, valve) -> Remedy:
    off = option.cents_unpulled
    mm, left = pulled(instrument, option.way, option.resonance, target, name)
    more = ", as far as it goes" if mm == LONGEST_PULL_MM[name] and left > WORTH else ""
    do = f"{name} slide out {mm:.0f} mm{more}"
    return Remedy(do, left - off, left, option.way, ((name, mm),))


def _other(option: Option, off: float) -> Remedy:
    pulls = (("first", option.first_slide_pull_mm), ("third", option.third_slide_pull_mm))
    way = option.way
    if option.tuned_position is not None:
        way = Way(way.valves, option.tuned_position, way.partial)
    do = f"play it with {option_words(option)}".replace("with open", "open")
    return Remedy(do, option.cents - off, option.cents, way, tuple(p for p in pulls if p[1]))


def _lips(option: Option) -> Remedy:
    off = option.cents_unpulled
    moved = float(np.clip(-off, -COMFORTABLE_LIP, COMFORTABLE_LIP))
    do = (
        f"lip it {'down' if moved < 0 else 'up'} {abs(moved):.0f} cents (about "
        f"{COMFORTABLE_LIP:.0f} are comfortable: common practice, no published source)"
    )
    return Remedy(do, moved, off + moved, option.way, lipped=moved)


def _tuning_slide(instrument: Instrument, option: Option, target: float) -> list[Remedy]:
    """Out where the note is sharp; in where it is flat and the slide is out."""
    now, off = instrument.tuning_slide_pull_mm, option.cents_unpulled
    if off < 0 and not now:
        return []
    resonance, length = option.resonance.frequency, instrument.bore(option.way).length

    def at(mm):
        bore = replace(instrument, tuning_slide_pull_mm=mm).bore(option.way)
        expected = resonance / (1 + 2 * MM * (mm - now) / length)
        return played_cents(instrument, peak_near(bore, instrument.air, expected), target)

    mm, left = falling_to_zero(at, *((now, now + TUNING_SLIDE_MM) if off > 0 else (0.0, now)))
    do = (
        f"tuning slide {'out' if off > 0 else 'in'} {abs(mm - now):.0f} mm (moves every note, "
        "those that were in tune too)"
    )
    return [Remedy(do, left - off, left, option.way, tuning_slide_pull_mm=mm)]
