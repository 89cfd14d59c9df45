"""The time loop's checked wrapper: what goes in, what comes out, and the words when it fails."""

from functools import cache

import numpy as np

from lipmodel.errors import SimulationError, check_stop
from lipmodel.lips import MOTIONS, PLAYERS
from lipmodel.waveguide.arrays import (
    at_junctions,
    end_coefficients,
    line_taps,
    shelf_ranges,
    tap_of,
)
from lipmodel.waveguide.fades import fade, hand_over
from lipmodel.waveguide.ladder import Ladder
from lipmodel.waveguide.state import Block, Horn, LoopOutput, State, lines_energy, start

# Loss of head behind the throat, of rho u^2/(2 S^2).  Air from the cup enters over a rounded edge
# (0.04, Crane TP-410, from memory) and slows down in the backbore, a cone of 3 to 6 degrees in all
# (0.2, I. E. Idelchik, Handbook of hydraulic resistance, diffusers, from memory; a whole venturi
# tube with a cone of 7 degrees loses 0.05 to 0.2, ISO 5167-4).  Air that comes back leaves as a
# jet into the cup and loses (1 - S/S_cup)^2 (Borda and Carnot).
THROAT_LOSS = 0.25
LARGEST_PRESSURE = 300e3  # Pa; a run beyond this has left the model
KEPT_ROOM = 4_000_000  # samples, a little under the most that glibc keeps
TRACES = ("mouthpiece_pressure", "flow", "lip_opening", "out_wave", "back_wave", "entering_wave")


@cache
def _keep_room():
    """glibc gives arrays back to the system, and fetches each anew page by page, unless it has
    once freed one as large: short runs take a fifth to two thirds longer then."""
    np.ones(KEPT_ROOM)


def advance(horn: Horn, state: State, block: Block, book=False) -> LoopOutput:
    """Advance `state` in place through `block`; `book` sums energies into state.books.

    Raises SimulationError when the pressure leaves the model's range.
    """
    from lipmodel.waveguide.kernels import time_loop as kernel

    check_stop()
    _keep_room()
    ladder = horn.ladder
    mouth = np.ascontiguousarray(block.mouth, float)
    tension = np.ascontiguousarray(block.tension, float)
    upstream, resonance = _upstream(horn, state, block)
    if not (np.all(np.isfinite(mouth)) and np.all(tension > 0)):
        raise ValueError("advance: mouth pressure must be finite and tension above 0")
    n = len(mouth)
    quality = _along(horn.lips, tension)
    firm = horn.lips.firmness(mouth if block.firm_for is None else block.firm_for, tension)
    delays = ladder.delay[ladder.line_cell]
    from_ = delays if block.lines_from is None else block.lines_from
    to = from_ if block.lines_to is None else block.lines_to
    tap_a = line_taps(ladder, from_)
    tap_b = tap_a if block.lines_to is None else line_taps(ladder, to)
    mix, scale, after = np.zeros(n), np.ones((len(from_), 0)), 0.0
    if block.mix is not None and n:
        travel = max(block.travel, n)
        progress = np.append(block.mix, block.mix[-1] + 1 / travel)
        mix, scale = fade(progress, travel, np.asarray(to) - np.asarray(from_))
        mix, scale, after = mix[:-1], np.ascontiguousarray(scale[:, :-1]), mix[-1]
    hand_over(state, from_, to)
    booked = book and scale.shape[1] > 0
    held = _held(ladder, state, from_, to, mix[0]) if booked else 0.0
    sliding, near, far, longest, added, gain = _sliding(ladder, state, block, from_, to, n)
    end_b, end_a = end_coefficients(ladder)
    traces = np.zeros((len(TRACES), n))
    in_mouth = None if upstream is None else np.zeros(n)
    scattering, weight, coefficient, admittance = at_junctions(ladder)
    state.drain[:] = 0
    status, done = kernel.advance(
        1 / ladder.rate, horn.density, LARGEST_PRESSURE, MOTIONS.index(horn.lips.motion),
        horn.lips.constants(),
        ladder.admittance, scattering, weight, coefficient,
        shelf_ranges(weight, ladder.turn), end_b, end_a,
        ladder.line_cell, tap_a, tap_b, scale, ladder.pole_coefficients, sliding, near, far,
        longest, *throat_and_station(horn),
        mouth, upstream, tension, 1 / quality, np.ascontiguousarray(firm, float), mix, added, gain,
        state.lip, state.tract, state.right, state.left, state.memory, state.end_memory,
        state.buffers, state.place, state.line_memory, state.line_old,
        state.drain if book else None,
        state.books, *traces, in_mouth,
    )  # fmt: skip
    if status == kernel.DIVERGED:
        raise SimulationError(
            f"the pressure left the model's range ({LARGEST_PRESSURE / 1e3:g} kPa) after "
            f"{state.time + done / ladder.rate:.4f} s (mouth pressure {mouth[done] / 1e3:.3g} kPa, "
            f"lip tension {tension[done]:.4g} Hz); blow softer, change tension more slowly, or "
            f"raise sound.rate_hz (now {ladder.rate:g})"
        )
    state.books[kernel.WALL] += np.sum(admittance * state.drain[: len(admittance)]) / ladder.rate
    if booked:
        state.books[kernel.FADES] -= _held(ladder, state, from_, to, after) - held
    state.time += n / ladder.rate
    state.resonance = resonance
    if n and sliding >= 0:
        state.slide, state.added = block.slide or state.slide, float(added[-1])
    return LoopOutput(*traces, in_mouth)


def _upstream(horn: Horn, state: State, block: Block):
    """The law of the air in the mouth, (9, n), or (9, 1) where it stands, and its resonance at
    the end in Hz; None where lungs blow the lips directly."""
    if horn.mouth is None:
        if block.resonance is not None:
            raise ValueError("advance: a resonance of the mouth needs a horn with a mouth")
        return None, None
    if block.resonance is None:
        resonance = np.array([state.resonance or horn.mouth.resonance])
    else:
        resonance = np.asarray(block.resonance, float)
        if resonance.shape != np.shape(block.mouth):
            raise ValueError(
                f"advance: resonance of the mouth of shape {resonance.shape}: expected "
                f"{np.shape(block.mouth)}"
            )
        if len(resonance) and np.all(resonance == resonance[0]):
            resonance = resonance[:1]
    if not np.all((resonance > 0) & (resonance < horn.rate / 2)):
        raise ValueError(f"advance: the mouth resonates above 0 and below {horn.rate / 2:g} Hz")
    law = horn.mouth.law(resonance, 1 / horn.ladder.admittance[0], horn.rate)
    return law, float(resonance[-1]) if len(resonance) else state.resonance


def _held(ladder, state, from_, to, mix) -> float:
    """Energy in J that lines hold which are read from two taps at once."""
    return (1 - mix) * lines_energy(ladder, state, from_) + mix * lines_energy(ladder, state, to, 1)


def throat_and_station(horn: Horn):
    """What the time loop needs of the mouthpiece: the throat's junction and law, the station's
    junction and its shares.

    Quasi-steady flow: dp = K rho u |u|/(2 S^2), S the throat's area.
    """
    ladder = horn.ladder
    y, scattering = ladder.admittance, ladder.scattering
    throat, law = ladder.throat if horn.throat_loss else -1, np.zeros(5)
    if throat >= 0:
        head = horn.density / (2 * ladder.throat_area**2)
        against = (1 - ladder.throat_share) ** 2
        z1, z2 = 1 / y[throat], 1 / y[throat + 1]
        law[:] = z1, z2, THROAT_LOSS * head, against * head, 1 / (z1 + z2)
    # p+ = (p + Z u)/2 with the bore's own Z there, from the cell's waves
    cell = ladder.station
    ratio = y[cell] / ladder.station_admittance if ladder.station_admittance else 1.0
    out, back = 0.5 * (1 + ratio), 0.5 * (1 - ratio)
    k = scattering[cell - 1] if cell else 0.0
    return throat, law, cell - 1, np.array([(1 + k) * out, back - k * out])


def _sliding(ladder, state: State, block: Block, from_, to, n):
    """What the time loop needs of a moving slide: line or -1, delays without it, taps with all
    of it, its longest, what it adds and sqrt(1 - D') at every sample."""
    slide = block.slide or state.slide
    if slide is None:
        return -1, np.zeros(2), np.zeros((2, 7)), 1.0, np.zeros(0), np.zeros(0)
    if state.slide is None and state.time > 0:
        raise ValueError("advance: a slide that moves must be there from a run's first sample on")
    if block.added is None:
        added = np.full(n, state.added)
    else:
        added = np.ascontiguousarray(block.added, float)
    near = np.array([from_[slide.line], to[slide.line]], float)
    _check_added(added, near, n, state.buffers.shape[2])
    longest = max(slide.longest, 1e-9)
    far = np.array([tap_of(ladder, slide.line, float(d + slide.longest)) for d in near])
    # from the sample before, so that the same run cut elsewhere has the same bits
    before = state.added if state.slide is not None else added[:1]
    change = np.diff(added, prepend=before)
    if np.any(change >= 1):
        raise ValueError("advance: a slide must lengthen by less than a sample each sample")
    return slide.line, near, far, longest, added, np.sqrt(1 - change)


def _check_added(added, near, n, size):
    if added.shape != (n,) or not np.all(np.isfinite(added)):
        raise ValueError(f"advance: what a slide adds must be finite, of shape ({n},)")
    low, high = added.min(initial=0.0) + near.min(), added.max(initial=0.0) + near.max()
    if low < 2 or high > size - 4:
        raise ValueError(f"advance: a line with a moving slide takes 2 to {size - 4} samples")


def _along(lips, tension):
    """Quality per sample; where tension stands still, worked out once."""
    if len(tension) and np.all(tension == tension[0]):
        return np.full(len(tension), lips.quality_at(tension[0]))
    return lips.quality_at(tension)


def play(horn: Horn, mouth, tension, book=False) -> LoopOutput:
    """From rest through arrays of mouth pressure (Pa) and tension (Hz), both of shape (n,)."""
    return advance(horn, start(horn), Block(np.asarray(mouth), np.asarray(tension)), book)


def small_ladder() -> Ladder:
    """A tube of five cells, written down here: working one out would load what a kept one does
    without."""
    n, line = 5, 2
    return Ladder(
        rate=48_000.0,
        admittance=np.full(n, 1e-6),
        delay=np.where(np.arange(n) == line, 2.0, 1.0),
        shelf_weight=np.zeros(n),
        shelf_coefficient=np.full(n, 0.1),
        turn=0,
        line_cell=np.array([line]),
        line_x=np.zeros((1, 2)),
        line_excess=np.zeros((1, 1)),
        end_numerator=np.array([-1.0]),
        end_denominator=np.array([1.0]),
        first_admittance=1e-6,
        end_admittance=0.0,
        end_load=None,
        end_time=0.0,
        end="node",
        known_taps={(0, 2.0): np.array([1.0, *np.zeros(6)])},
    )


def warm_up(mouth=None):
    """Run the time loop for a moment on a tube of five cells, so that it is compiled or loaded;
    that with a mouth is another."""
    ladder = small_ladder()
    horn = Horn(ladder, PLAYERS["small"], 1.2, mouth=mouth)
    for book in (False, True):
        advance(horn, start(horn), Block(np.zeros(4), np.full(4, 200.0)), book)
