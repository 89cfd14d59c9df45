"""The playing slide on its way: where it is at every moment, and what it adds to its line.

Between two notes it travels in a fixed time, starting and stopping smoothly, and arrives when the
second one starts.  A run in which it stays where it is needs none of this: its line has one length.
"""

import contextlib
from dataclasses import dataclass

import numpy as np

from lipmodel.bore.valves import has_mark
from lipmodel.errors import SceneError
from lipmodel.files.long_arrays import MemoryRoom, portions
from lipmodel.player import articulation, fingering
from lipmodel.player.breakpoints import Breakpoints
from lipmodel.player.build import Built, slide_is_led
from lipmodel.player.instrument import Instrument
from lipmodel.player.tubing import line_at, slide_tube
from lipmodel.player.tuning import tuned_position
from lipmodel.waveguide.state import Slide

TRAVEL = 0.1  # s from one note's position to the next: common practice, no published source
FASTEST = 4.5  # m/s of slide: a longer way takes longer
ROUNDING = 0.02  # s: a hand does not change its speed at once
TRAVEL_STEPS = 24  # straight pieces of a raised cosine
PIECE = 0.25  # positions: shorter than this the tube grows in a straight line
LEAST_TUBE = 1e-6  # m: less than this is no way to go


@dataclass(frozen=True)
class Motion:
    """Breakpoints of a run: time (s), position and tube added (m), each of shape (k,)."""

    time: np.ndarray
    position: np.ndarray
    tube: np.ndarray

    def position_at(self, time):
        """Slide position at `time` s, of its shape."""
        return np.interp(time, self.time, self.position)

    def mean_position(self, first, last) -> float:
        """Mean of the position from `first` to `last` s."""
        return float(np.mean(self.position_at(np.linspace(first, last, 101))))


def usual_position(built: Built, semitone: int, frequency: float) -> float:
    """Slide position for a sounding semitone number at `frequency` Hz that names none: the usual
    one, moved until the note rests there in tune, as players do."""
    way = fingering.usual(built.spec, semitone)
    if way is None or not has_mark(built.spec, "slide"):
        return 1.0
    if way.partial == fingering.PEDAL:  # no resonance lies there to be put in tune
        return way.slide_position
    pull = built.scene.instrument.tuning_slide_pull_mm
    instrument = Instrument(built.spec, built.air, tuning_slide_pull_mm=pull)
    with contextlib.suppress(ValueError):  # the bore has no such resonance
        return tuned_position(instrument, way, frequency)
    return way.slide_position


def note_slide(built: Built, note, semitone: int, frequency: float) -> Breakpoints:
    """Slide position of a note, from its start."""
    if note.slide_position is not None:
        return Breakpoints.of(note.slide_position)
    scene = built.scene.instrument.slide_position
    if scene == 1:
        return Breakpoints.of(usual_position(built, semitone, frequency))
    return Breakpoints.of(scene).later(-note.start_s)  # in the scene's time


def along(position: Breakpoints, start=0.0, end=None) -> Breakpoints:
    """Slide positions from `start` to `end` s, in short pieces.

    The first one is at `start`, the last one at `end` where there is one.
    """
    if not position.moves:
        return Breakpoints((start,), position.values)
    times = np.array(position.times)
    last = max(times[-1], start) if end is None else end
    edges = np.unique([start, *times[(times > start) & (times < last)], last])
    found = [(float(start), position.at(start))]
    for time in edges[1:]:
        (t0, p0), p1 = found[-1], position.at(time)
        count = max(1, int(np.ceil(abs(p1 - p0) / PIECE - 1e-9)))
        shares = np.arange(1, count + 1) / count
        found += [(float(t0 + s * (time - t0)), float(p0 + s * (p1 - p0))) for s in shares]
    return Breakpoints.of(found)


def scene_motion(built: Built) -> Motion | None:
    """The slide of a scene with a lip setting; None where it is held."""
    if not slide_is_led(built.scene):
        return None
    led = along(Breakpoints.of(built.scene.instrument.slide_position))
    return _motion([(t, p, slide_tube(built, p)) for t, p in led.points])


def phrase_motion(built: Built, notes) -> Motion | None:
    """The slide of a phrase of `planning.PlannedNote`s; None where it is never moved."""
    swayed = [articulation.swayed(note) for note in notes]
    places = {p for position in swayed for p in position.values}
    if len(places) == 1:
        return None
    path, earliest = [], 0.0
    for note, moved in zip(notes, swayed, strict=True):
        points = [
            (note.start + t, p, slide_tube(built, p, note.valve_tube)) for t, p in moved.points
        ]
        arrival = _travel(path, points, earliest) if path else note.start
        path.append(_at(points, arrival))
        path += [point for point in points if point[0] > arrival]
        earliest = arrival
    return _motion(path)


def travel_time(tube: float) -> float:
    """Seconds that a player takes to add `tube` m (twice the way of the hand).

    A raised cosine is pi/2 times faster at its middle than on the whole.
    """
    return max(TRAVEL, 0.5 * np.pi * 0.5 * abs(tube) / FASTEST)


def _travel(path, points, earliest) -> float:
    """Append the way from the end of `path` to `points`; returns when it is done.

    It may be late: a slide that would have to fly starts no earlier than it arrived before.
    """
    start, _, target = points[0]
    begin = max(start - travel_time(target - path[-1][2]), earliest)
    old = _at(path, begin)
    way = target - old[2]
    if abs(way) < LEAST_TUBE:
        return start
    arrival = max(begin + travel_time(way), start)
    new = _at(points, arrival)
    path[:] = [point for point in path if point[0] < begin]
    for u in np.linspace(0, 1, TRAVEL_STEPS + 1):
        share = 0.5 - 0.5 * np.cos(np.pi * u)
        time = begin + u * (arrival - begin)
        path.append((time, *(a + share * (b - a) for a, b in zip(old[1:], new[1:], strict=True))))
    return arrival


def _at(path, time):
    times, *values = np.array(path, float).T
    return (float(time), *(float(np.interp(time, times, v)) for v in values))


def _motion(path) -> Motion:
    time, position, tube = np.array(path, float).T
    order = np.argsort(time, kind="stable")
    return Motion(time[order], position[order], tube[order])


def slide_line(built: Built, motion: Motion, samples: int, room=None):
    """The moving line, and the samples one way that are added to it at every sample, (samples,),
    in `room`.

    Raises SceneError where the slide's cylinder is too short to be a line.
    """
    from scipy.ndimage import uniform_filter1d  # slow to load, and few scenes have a slide

    ladder = built.horn.ladder
    number, speed = line_at(built, "slide")
    if ladder.delay[ladder.line_cell[number]] < 3:
        raise SceneError(
            f"{built.scene.path}: the slide's cylinder is too short to move: expected "
            f"{20 * speed / ladder.rate * 1e3:.0f} mm or more at rate_hz = {ladder.rate:g}"
        )
    added_at = Breakpoints(tuple(motion.time), tuple(motion.tube / speed * ladder.rate))
    # a corner is a step of the Doppler shift, and heard as a click
    size = max(1, int(ROUNDING / 2 * ladder.rate))
    added, longest = (room or MemoryRoom()).trace(samples), 0.0
    for part in portions(samples):
        first, last = max(part.start - 2 * size, 0), min(part.stop + 2 * size, samples)
        found = added_at.sampled(ladder.rate, last - first, first)
        for _ in range(2):
            found = uniform_filter1d(found, size, mode="nearest")
        found = np.maximum(found, 0.0)[part.start - first : part.stop - first]
        added[part], longest = found, max(longest, float(found.max()))
    return Slide(number, longest), added
