"""Where a note rests: played, not read off a resonance.

The lips start near the note with the breath of a dynamic and are then swept down and up from
there until the pitch jumps or dies (`analysis.lock.branch`).  The slot is the range of setting
with lock >= 0.5, at least 60 cents wide; its centre, the middle in cents, plays the resting pitch:
a note held there has it within a cent.  Notes under 400 Hz are played at 24 kHz, which moves
their pitch by 0.3 cent in the mean and by less than a cent; higher ones, which it would move by
up to two, at 48 kHz (tests).
Of two on one partial it is the wider one, as in `analysis.sweeps.slot_rows`.

A pedal note has no resonance of its own: there the embouchure solver says from which dynamic on
the lips reach it, and a nudge how much holds it.
"""

from dataclasses import astuple, dataclass, replace

import numpy as np

from lipmodel.analysis.lock import SLOT_LOCK, Branch, Slot, branch, lock, slot_of
from lipmodel.analysis.pitch import lowest_for, steady_pitch
from lipmodel.analysis.sweeps import NARROWEST
from lipmodel.bore.valves import has_mark
from lipmodel.files.cache import cached, key_of
from lipmodel.lips import PLAYERS, Lips
from lipmodel.player import build, embouchure
from lipmodel.player.cached import BoreKey, played_resonances, shared_ladder
from lipmodel.player.fingering import Way
from lipmodel.player.instrument import Instrument
from lipmodel.player.short_note import play_note
from lipmodel.player.tubing import line_of
from lipmodel.units import cents
from lipmodel.waveguide.state import Horn

RATE = 48_000.0
COARSE, COARSE_BELOW = 24_000.0, 400.0  # the rate of notes below so many Hz
HARDEST = 40e3  # Pa, as a scene allows
TRIAL, MEASURED = 0.45, 0.2  # s
A_PERIOD = 60  # samples that are enough for its pitch: 40 move a resting pitch by up to two cents
MARKINGS = ("p", "mf", "f")  # what a note's range is told for
PEDAL_MARKINGS = ("p", "mf", "f", "ff")
FOLLOWED = 200.0  # cents of pitch to either side: a slot's own pitch moves by some 100
NUDGES = (0.0, -100.0, 100.0, -200.0, 200.0)  # cents of setting, until the partial speaks


@dataclass(frozen=True)
class Rest:
    """A slot at one dynamic: resting pitch, centre and ends of the lip setting, Hz, and the mouth
    pressure, Pa."""

    dynamic: str
    frequency: float
    tension: float
    tension_from: float
    tension_to: float
    mouth: float


def rest(
    instrument: Instrument, way: Way, target: float, dynamic: str = "mf", pulls=(0.0, 0.0)
) -> Rest | None:
    """The slot of `way`'s partial as blown for a note of `target` Hz, kept between runs; `pulls`:
    mm of the first and third valve's slide.  None where nothing holds it."""
    bore = instrument.bore(way, *pulls)
    mouth = min(lips_of(instrument).breath(dynamic, target), HARDEST)
    asked = (lips_of(instrument), throat_loss(instrument), way.partial, mouth)
    found = cached(
        key_of("rest", bore, instrument.air, *asked),
        lambda: _slot(instrument, bore, way.partial, mouth),
        lambda slot: {"slot": np.array(() if slot is None else astuple(slot))},
        lambda known: known["slot"],
    )
    found = () if found is None else found if isinstance(found, np.ndarray) else astuple(found)
    if not len(found):
        return None
    low, high, centre, resting = (float(v) for v in found)
    return Rest(dynamic, resting, centre, low, high, mouth)


@dataclass(frozen=True)
class Pedal:
    """From which dynamic on the lips play a note that no resonance holds, and its lock there
    (None where a nudge makes it jump)."""

    dynamic: str
    lock: float | None


def pedal(instrument: Instrument, way: Way, target: float) -> Pedal | None:
    """How a pedal note of `target` Hz speaks, kept between runs; None where it does not."""
    bore = instrument.bore(way)
    asked = (lips_of(instrument), throat_loss(instrument), RATE, target)
    number, held = cached(
        key_of("pedal", bore, instrument.air, *asked),
        lambda: _pedal(instrument, bore, target),
        lambda found: {"found": np.array(found)},
        lambda known: tuple(known["found"]),
    )
    if np.isnan(number):
        return None
    return Pedal(PEDAL_MARKINGS[int(number)], None if np.isnan(held) else float(held))


def _pedal(instrument: Instrument, bore, target: float) -> tuple[float, float]:
    """(number in PEDAL_MARKINGS, lock); nan for what is not."""
    horn = horn_of(instrument)
    lines = lines_of(instrument, horn, bore)
    for number, dynamic in enumerate(PEDAL_MARKINGS):
        mouth = horn.lips.breath(dynamic, target)
        try:
            setting = embouchure.solve(horn, target, mouth, lines)
        except embouchure.UnreachableError:
            continue
        _, state = play_note(horn, setting.tension, mouth, TRIAL, lines)
        held = lock(horn, state, mouth, setting.tension, lines, setting.frequency)
        return float(number), np.nan if held is None else held
    return np.nan, np.nan


def lips_of(instrument: Instrument) -> Lips:
    """The lips that play notes on it: the scene's, else the calibrated player's, grown firmer
    with the breath unless the scene forbids it."""
    scene, spec = instrument.scene, instrument.spec
    lips = build.player_lips(scene, spec) if scene else PLAYERS[spec.player]
    return replace(lips, firm=not scene or scene.lips.firmness is not False)


def throat_loss(instrument: Instrument) -> bool:
    return instrument.scene.instrument.throat_loss if instrument.scene else True


def horn_of(instrument: Instrument, rate: float = RATE) -> Horn:
    """The instrument open, slide in, with its player's lips: whatever is pressed lengthens a
    line of it, as when a phrase is played."""
    air = instrument.air
    ladder = shared_ladder(BoreKey(instrument.bore(Way("0", 1.0, 1)), air), rate)
    density = getattr(air, "lips", air).density
    return Horn(ladder, lips_of(instrument), density, throat_loss(instrument))


def lines_of(instrument: Instrument, horn: Horn, held) -> np.ndarray | None:
    """Delays in samples of the lines of `horn` with the instrument held as the bore `held`."""
    is_open = instrument.bore(Way("0", 1.0, 1))
    added = held.length - is_open.length
    if not added:
        return None
    mark = "slide" if has_mark(instrument.spec, "slide") else "valve"
    line, speed = line_of(horn.ladder, is_open, instrument.air, mark)
    delays = horn.ladder.delay[horn.ladder.line_cell].copy()
    delays[line] += added / speed * horn.ladder.rate
    return delays


def _slot(instrument: Instrument, bore, partial: int, mouth: float) -> Slot | None:
    known = played_resonances(bore, instrument.air)
    peaks = np.array([r.frequency for r in known]) * 2 ** (instrument.rest / 1200)
    number = [r.n for r in known].index(partial)
    near = peaks[number]
    horn = horn_of(instrument, COARSE if near < COARSE_BELOW else RATE)
    lines = lines_of(instrument, horn, bore)
    thinned = max(1, int(horn.rate / near / A_PERIOD))
    within = near * 2 ** (-FOLLOWED / 1200), near * 2 ** (FOLLOWED / 1200)
    # where the embouchure solver begins too
    setting = near * max(0.97 - 0.024 * mouth / 1e3 * 233.0 / near, embouchure.LOOSEST)
    for nudge in NUDGES:
        tension = setting * 2 ** (nudge / 1200)
        played, state = play_note(horn, tension, mouth, TRIAL, lines)
        tail = played.mouthpiece_pressure[-int(MEASURED * horn.rate) :]
        heard = steady_pitch(tail, horn.rate, lowest=lowest_for(near))
        if np.isnan(heard) or np.argmin(np.abs(np.log(peaks / heard))) != number:
            continue
        found = branch(horn, state, mouth, tension, lines, heard, within, thinned)
        slot = _widest(found, peaks, number)
        if slot is not None:
            return slot
    return None


def _widest(found: Branch, peaks, number) -> Slot | None:
    """The widest slot on a branch whose resting pitch belongs to the peak of that number."""
    edges = np.flatnonzero(np.diff(np.r_[False, found.lock >= SLOT_LOCK, False].astype(int)))
    middles = {np.sqrt(found.tension[a] * found.tension[b - 1])
               for a, b in zip(edges[::2], edges[1::2], strict=True)}  # fmt: skip
    slots = {slot_of(found, middle) for middle in middles} - {None}
    own = [
        (cents(slot.tension_to, slot.tension_from), slot.tension_from, slot)
        for slot in slots
        if np.argmin(np.abs(np.log(peaks / slot.resting))) == number
    ]
    width, _, widest = max(own, default=(0.0, 0.0, None), key=lambda one: one[:2])
    return widest if width >= NARROWEST else None
