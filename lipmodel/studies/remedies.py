"""What brings a note in tune, or lets it speak, and by how many cents."""

from dataclasses import dataclass, replace

import numpy as np

from lipmodel.bore.bore_file import Hand
from lipmodel.bore.parts import with_obstacle
from lipmodel.bore.valves import has_mark
from lipmodel.player.fingering import Way
from lipmodel.player.fingering_options import Option
from lipmodel.player.instrument import Instrument
from lipmodel.player.tuning import falling_to_zero, peak_near, played_cents, pulled
from lipmodel.player.tuning_slide import FURTHEST_OUT, IN_TUNE
from lipmodel.studies.chart import option_words
from lipmodel.units import MM, note_frequency, sharp_or_flat

ALIKE = 1.0  # cents: remedies that leave so much more or less are as good
HALF = 0.5  # of the trouble: another fingering has to leave less than that
COMFORTABLE_LIP = 30.0  # cents; common practice, no published source
CLOSED_PERCENT = 30.0  # of the area that the hand leaves; more would be stopping
MOST_FINGERINGS = 2
WORTH_OTHER = 10.0  # cents: for less nobody changes the fingering; common practice, as above
USUAL_VALVES, USUAL_REACH = 2, 3.0  # valves, or positions away, that another way takes at most


@dataclass(frozen=True)
class Remedy:
    """What to do, how many cents it moves the note, and what it leaves.

    way, pulls, tuning slide, hand (percent left open): how the instrument is then held; lipped:
    by the lips, cents.
    """

    do: str
    cents: float
    leaves_cents: float
    way: Way
    pulls: tuple[tuple[str, float], ...] = ()
    tuning_slide_pull_mm: float | None = None
    lipped: float = 0.0
    hand_open_percent: float | None = None

    def row(self) -> dict:
        """The remedy as told in JSON."""
        return {"do": self.do, "cents": self.cents, "leaves_cents": self.leaves_cents}


def remedies(
    instrument: Instrument, option: Option, others: list[Option], semitone: int, whole: float
) -> list[Remedy]:
    """What helps against the cents of `option`, no slide pulled: its own slides or the hand first;
    where those do not bring it in tune other ways to the note that leave less than half of it;
    the lips, and the tuning slide where the open notes are off the same way by `whole` cents on
    average.  None under five cents."""
    off = option.cents_unpulled
    if abs(off) < IN_TUNE:
        return []
    target = note_frequency(semitone, instrument.a4)
    helps = [_position(option)] if option.tuned_position is not None else []
    if off > 0:
        throws = instrument.spec.valves.throws_mm
        helps += [_slide(instrument, option, target, name) for name, valve in
                  (("third", "3"), ("first", "1"))
                  if throws[name] and valve in option.way.valves]  # fmt: skip
        helps += _hand(instrument, option, target)
    if abs(off) >= WORTH_OTHER and all(abs(r.leaves_cents) >= IN_TUNE for r in helps):
        better = [o for o in others if _handy(o, option) and o.off <= HALF * abs(off)]
        helps += [_other(o, off) for o in sorted(better, key=lambda o: o.off)[:MOST_FINGERINGS]]
    helps.append(_lips(option))
    if has_mark(instrument.spec, "tuning_slide") and abs(whole) >= IN_TUNE and whole * off > 0:
        of_all = _tuning_slide(instrument, option, target, whole)
        helps = of_all + helps if abs(whole) > HALF * abs(off) else helps + of_all
    return [r for r in helps if abs(r.cents) >= IN_TUNE and abs(r.leaves_cents) < abs(off)]


def _handy(other: Option, option: Option) -> bool:
    """Whether a player would take `other` in its place: not for the worse, with few valves, the
    slide not far away."""
    valves = [len(o.way.valves.strip("0")) for o in (other, option)]
    away = abs(other.way.slide_position - option.way.slide_position)
    near = valves[0] <= max(USUAL_VALVES, valves[1]) and away <= USUAL_REACH
    return other.way != option.way and other.cents is not None and near


def best(remedies: list[Remedy]) -> Remedy | None:
    """The remedy that leaves least; of those within a cent the first."""
    least = min((abs(r.leaves_cents) for r in remedies), default=0.0)
    return next((r for r in remedies if abs(r.leaves_cents) <= least + ALIKE), None)


def _position(option: Option) -> Remedy:
    way, tuned = option.way, option.tuned_position
    do = f"slide to position {tuned:.2f} instead of {way.slide_position:g}"
    moved = option.cents - option.cents_unpulled
    return Remedy(do, moved, option.cents, Way(way.valves, tuned, way.partial))


def _slide(instrument, option, target, name) -> Remedy:
    off, longest = option.cents_unpulled, instrument.spec.valves.throws_mm[name]
    mm, left = pulled(instrument, option.way, option.resonance, target, name, option.rest)
    more = ", as far as it goes" if mm == longest and left > ALIKE else ""
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


def _hand(instrument: Instrument, option: Option, target: float) -> list[Remedy]:
    """A hand put into the open bell of an instrument that is played with one."""
    spec, off = instrument.spec, option.cents_unpulled
    if not spec.hand_in_bell or spec.hand is not None:
        return []

    def at(taken):
        bore = with_hand(instrument, 100.0 - taken).bore(option.way)
        return played_cents(
            option.rest, peak_near(bore, instrument.air, option.resonance.frequency), target
        )

    taken, left = falling_to_zero(at, 0.0, 100.0 - CLOSED_PERCENT)
    if abs(left) > off - IN_TUNE:
        return []
    do = (
        f"hand in the bell, {100 - taken:.0f} % of it left open (here the bell stands open; "
        "players hold the hand in it: common practice, no published source)"
    )
    return [Remedy(do, left - off, left, option.way, hand_open_percent=100.0 - taken)]


def with_hand(instrument: Instrument, open_percent: float) -> Instrument:
    """The instrument with a hand in its bell that leaves so much of the area."""
    hand = Hand(open_percent=open_percent).model_dump()
    return replace(instrument, spec=with_obstacle(instrument.spec, "hand", hand))


def _tuning_slide(
    instrument: Instrument, option: Option, target: float, whole: float
) -> list[Remedy]:
    """Out or in until the open notes are in tune on average, as far as it goes."""
    now, off = instrument.tuning_slide_pull_mm, option.cents_unpulled
    least = -instrument.spec.tuning_slide_in_mm
    resonance, length = option.resonance.frequency, instrument.bore(option.way).length

    def at(mm):
        bore = replace(instrument, tuning_slide_pull_mm=mm).bore(option.way)
        expected = resonance / (1 + 2 * MM * (mm - now) / length)
        left = played_cents(option.rest, peak_near(bore, instrument.air, expected), target)
        return left - (off - whole)

    if (off < 0 and now <= least) or (off > 0 and now >= FURTHEST_OUT):
        return []
    mm, more = falling_to_zero(at, *((now, FURTHEST_OUT) if off > 0 else (least, now)))
    left = more + off - whole
    do = (
        f"tuning slide {'out' if off > 0 else 'in'} {abs(mm - now):.0f} mm (it moves every note; "
        f"the open notes are {sharp_or_flat(whole)} on average)"
    )
    return [Remedy(do, left - off, left, option.way, tuning_slide_pull_mm=mm)]
