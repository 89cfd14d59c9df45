"""What is heard of a run: its sound at the listener, steepened on the way out through the bore.

The bore is taken as it is held at every moment: tube that valves and the slide add delays,
steepens and loses as much as it is long, as if spread along the bore.
"""

from dataclasses import dataclass

import numpy as np

from lipmodel.player.build import Built
from lipmodel.player.gesture import Gesture
from lipmodel.player.joins import VALVE_TRAVEL
from lipmodel.sound import listener
from lipmodel.sound.passage import shock_distance
from lipmodel.sound.steepening import Steepened, steepened
from lipmodel.waveguide.state import LoopOutput, Slide


@dataclass(frozen=True)
class RadiatedSound:
    """Pressure at the listener in Pa, shape (n,); what steepening does (None where nothing leaves
    the tube), in the pressure only if the scene wants it; metres of cylinder to the first shock,
    and how far the bore takes the steepest front towards one (1: it breaks at the open end)."""

    pressure: np.ndarray
    steepened: Steepened | None
    shock_distance: float
    strength: float


def radiated_sound(
    built: Built,
    gesture: Gesture,
    played: LoopOutput,
    slide: Slide | None = None,
    slid=None,
    room=None,
) -> RadiatedSound:
    """The sound of a run; `slid`: samples that a moving `slide` adds, shape (n,).  What is long
    is put into `room`."""
    ladder = built.horn.ladder
    response = built.radiation_filter
    more, admittance = None, ladder.admittance[-1]
    found, distance, strength = None, float("inf"), 0.0
    if built.bore.end not in ("closed", "node"):
        way = built.passage
        added = _added(built, gesture, slide, slid)
        found = steepened(ladder, way, played.entering_wave, added, room)
        distance = shock_distance(way.rise, found.steepest)
        strength = way.delay * found.steepest
        if added is not None:
            at = int(found.at * built.rate)
            strength *= 1 + float(way.line_rise @ added(slice(at, at + 1))[:, 0])
        if built.scene.sound.steepening:
            more = found.flow
    pressure = listener.radiated(
        played.out_wave, played.back_wave, admittance, response, more, room
    )
    return RadiatedSound(pressure, found, distance, strength)


def at_ears(built: Built, driven, sound: np.ndarray, more=None, room=None) -> tuple:
    """Pressure in Pa at every ear of the scene, one or left and right: `sound`, what is heard of
    `driven` in free field, itself where there is nothing else; `more` flow on top of its waves."""
    if built.room is None and built.ears == (0,):
        return (sound,)
    waves = driven.out_wave, driven.back_wave, built.horn.ladder.admittance[-1]
    return tuple(
        listener.radiated(*waves, _both(*built.ear_filters(side)), more, room)
        for side in built.ears
    )


def room_over_direct(built: Built, driven, more=None) -> float | None:
    """dB by which what the room adds is stronger than the direct sound, over all of a take and
    at the first ear; None for silence."""
    waves = driven.out_wave, driven.back_wave, built.horn.ladder.admittance[-1]
    first, added = (
        listener.energy(*waves, response, more) for response in built.ear_filters(built.ears[0])
    )
    return float(10 * np.log10(added / first)) if first > 0 and added > 0 else None


def _both(first, added):
    """A response and what a room adds to it, as one."""
    if added is None:
        return first
    both = np.zeros(max(len(first), len(added)))
    both[: len(added)] += added
    both[: len(first)] += first
    return both


def _added(built: Built, gesture: Gesture, slide, slid):
    """A function that gives samples that valves and slide add to each line in a slice of the run,
    (m, samples); None where they add nothing."""
    ladder = built.horn.ladder
    own = ladder.delay[ladder.line_cell]
    first = own if gesture.first_lines is None else np.asarray(gesture.first_lines, float)
    if slide is None and not gesture.moves and np.array_equal(first, own):
        return None
    times, held = [0.0], [first]
    for at, delays in gesture.moves:
        times += [at, at + VALVE_TRAVEL]
        held += [held[-1], np.asarray(delays, float)]

    def added(part):
        time = np.arange(part.start, part.stop) / built.rate
        found = np.array([np.interp(time, times, line) for line in np.array(held).T])
        found -= own[:, None]
        if slide is not None:
            found[slide.line] += slid[part]
        return np.maximum(found, 0.0)

    return added


def warm_up():
    """Steepen a moment of silence, so that the loops are compiled or loaded."""
    from lipmodel.waveguide.kernels.steepening import POLES, late, steepen

    still, room = np.zeros(32), np.empty(128)
    for linear in (None, np.zeros(32)):
        shelves = np.zeros((2, POLES)), np.zeros(POLES)
        steepen(np.zeros(32), linear, np.zeros(1), still, still, *shelves, False, room)
    late(still, still, room[:32])
