"""A scene played: its gesture through the time loop, until every note is in tune.

The loop runs in blocks of a quarter of a second whose starting states are kept, so that any
moment can be played on from.
"""

from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise

import numpy as np

from lipmodel.analysis.pitch import lowest_for, pitch
from lipmodel.errors import SceneError
from lipmodel.files.long_arrays import MemoryRoom, portions
from lipmodel.player import embouchure, joins
from lipmodel.player.build import Built, build, tongue
from lipmodel.player.gesture import Gesture, PlannedNote, steady_part
from lipmodel.player.joins import VALVE_TRAVEL
from lipmodel.player.plan import cannot, gesture_of, plan
from lipmodel.player.radiated import RadiatedSound, at_ears, radiated_sound, room_over_direct
from lipmodel.player.slide import slide_line
from lipmodel.player.steadiness import Unsteady, unsteady
from lipmodel.scene.scene import Scene
from lipmodel.units import cents
from lipmodel.waveguide.state import (
    Block,
    LoopOutput,
    Slide,
    State,
    mouth_energy,
    start,
    stored_energy,
)
from lipmodel.waveguide.time_loop import advance

BLOCK = 0.25  # s between two kept states, or more in a long run
MOST_STATES = 480
CLOSE_ENOUGH = 3.0  # cents, of every note in the rendered phrase
POLISHING = 1.2  # cents: a note further off than this is set again
MOST_TAKES = 8


@dataclass(frozen=True)
class Controls:
    """What a run is played with, each array of shape (n,): breath in Pa, lips in Hz, samples that
    a moving slide adds to its line, breath that the lips are set for in Pa, the mouth's resonance
    in Hz where the tongue moves."""

    mouth: np.ndarray
    tension: np.ndarray
    slide: Slide | None = None
    added: np.ndarray | None = None
    firm_for: np.ndarray | None = None
    resonance: np.ndarray | None = None

    def block(self, begin, stop, mix, old, new, travel) -> Block:
        """Samples `begin` to `stop` with what the valves do meanwhile (as in `Block`)."""
        part = slice(begin, stop)

        def cut(trace):
            return None if trace is None else trace[part]

        return Block(
            self.mouth[part], self.tension[part], mix, old, new, travel=travel, slide=self.slide,
            added=cut(self.added), resonance=cut(self.resonance), firm_for=cut(self.firm_for),
        )  # fmt: skip


@dataclass(frozen=True)
class Performance:
    """What was played, and the states from which it can be played on."""

    built: Built
    gesture: Gesture
    played: LoopOutput
    controls: Controls
    states: list[State]
    books: np.ndarray
    stored: float
    held_in_mouth: float  #: J that the air in the mouth holds at the end
    room: object  #: for long traces

    @cached_property
    def heard(self) -> RadiatedSound:
        """Its sound, worked out when first asked for: takes on the way are not listened to."""
        slide, added = self.controls.slide, self.controls.added
        return radiated_sound(self.built, self.gesture, self.played, slide, added, self.room)

    @property
    def radiated_pressure(self) -> np.ndarray:
        return self.heard.pressure

    @cached_property
    def at_ears(self) -> tuple[np.ndarray, ...]:
        """Pressure in Pa at one ear or two, with the room; what is played does not hear it."""
        return at_ears(self.built, self.played, self.radiated_pressure, self._steepened, self.room)

    @property
    def room_over_direct(self) -> float | None:
        """dB by which the room's sound is stronger than the direct one; None for silence."""
        return room_over_direct(self.built, self.played, self._steepened)

    @property
    def _steepened(self):
        """Flow that steep waves add, where they are wanted."""
        found = self.heard.steepened
        return found.flow if found and self.built.scene.sound.steepening else None

    @property
    def mouth(self) -> np.ndarray:
        """The breath, Pa: that of the lungs where there is a mouth."""
        return self.controls.mouth

    @property
    def in_mouth(self) -> np.ndarray:
        """The pressure in the mouth, Pa: what blows the lips."""
        found = self.played.mouth_pressure
        return self.controls.mouth if found is None else found

    @property
    def tension(self) -> np.ndarray:
        return self.controls.tension

    def lines_at(self, time):
        return lines_at(self.gesture, time)

    def state_at(self, time) -> State:
        """A continuation from `time` seconds; a slide on its way is held where it is then."""
        rate = self.built.rate
        sample = min(int(time * rate), len(self.mouth))
        state = [s for s in self.states if s.time <= sample / rate + 1e-9][-1].copy()
        first = round(state.time * rate)
        for _ in run_blocks(self.built, self.gesture, state, self.controls, first, sample):
            pass
        return state

    def slide_position(self, first, last) -> float:
        """Slide position from `first` to `last` s, the mean where it moves."""
        gesture = self.gesture
        if gesture.slide is not None:
            return gesture.slide.mean_position(first, last)
        if gesture.notes:
            return gesture.notes[0].slide.first
        return float(self.built.scene.instrument.slide_position)


def lines_at(gesture: Gesture, time):
    """Delays of the lines with the valves that are down at `time` s; None for the bore's own."""
    lines = gesture.first_lines
    for at, delays in gesture.moves:
        if at + VALVE_TRAVEL <= time:
            lines = delays
    return lines


def run_blocks(built, gesture, state, controls, first, last, keep=None, book=False):
    """Advance `state` from sample `first` to `last` of the controls; `keep` collects states.

    Gives the pieces played, in order, each as it is played.
    """
    rate = built.rate
    block = int(BLOCK * rate)
    spacing = block * max(1, -(-last // (block * MOST_STATES)))
    travel = int(VALVE_TRAVEL * rate)
    moves = [(int(t * rate), delays) for t, delays in gesture.moves]
    edges = {first, last}
    edges.update(range(0, last, block))
    for at, _ in moves:
        edges.update((at, at + travel))
    edges = sorted(e for e in edges if first <= e <= last)
    for begin, stop in pairwise(edges):
        if keep is not None and begin % spacing == 0:
            keep.append(state.copy())
        old, new, mix = gesture.first_lines, None, None
        for at, delays in moves:
            if at + travel <= begin:
                old = delays
            elif at <= begin:
                new = delays
                mix = (begin - at + np.arange(stop - begin)) / travel
        yield advance(built.horn, state, controls.block(begin, stop, mix, old, new, travel), book)


def controls_of(built: Built, gesture: Gesture, room, drift: Unsteady | None = None) -> Controls:
    """The gesture as arrays, or traces in `room`, one value a sample, with the player's `drift`."""
    rate, samples = built.rate, round(gesture.length * built.rate)
    slide, added = None, None
    if gesture.slide is not None:
        slide, added = slide_line(built, gesture.slide, samples, room)
    mouth, tension, firm_for = room.trace(samples), room.trace(samples), None
    if gesture.firm_for is not None and built.horn.lips.firm:
        firm_for = room.trace(samples)
    led = tongue(built.scene)
    resonance = None if led is None else room.trace(samples)
    for part in portions(samples):
        count = part.stop - part.start
        breath = gesture.mouth.sampled(rate, count, part.start)
        setting = gesture.tension.sampled(rate, count, part.start)
        if drift is not None:
            drift.lay_over(part.start, breath, setting)
        mouth[part], tension[part] = breath, setting
        if firm_for is not None:
            firm_for[part] = gesture.firm_for.sampled(rate, count, part.start)
        if led is not None:
            resonance[part] = led.sampled(rate, count, part.start)
    return Controls(mouth, tension, slide, added, firm_for, resonance)


def take(built: Built, gesture: Gesture, book=False, room=None, drift=None) -> Performance:
    """One run of a gesture from rest, with the player's `drift`; long traces are put into `room`,
    over those of the take before."""
    room = room or MemoryRoom()
    room.begin_again()
    controls = controls_of(built, gesture, room, drift)
    samples = len(controls.mouth)
    state = start(built.horn)
    states, at = [], 0
    names = [*LoopOutput.__dataclass_fields__]
    if built.horn.mouth is None:
        names.remove("mouth_pressure")
    played = LoopOutput(*(room.trace(samples) for _ in names))
    for piece in run_blocks(built, gesture, state, controls, 0, samples, states, book):
        stop = at + len(piece.flow)
        for name in names:
            getattr(played, name)[at:stop] = getattr(piece, name)
        at = stop
    return Performance(
        built, gesture, played, controls, states, state.books.copy(),
        stored_energy(built.horn.ladder, state, lines_at(gesture, gesture.length)),
        mouth_energy(built.horn, state), room,
    )  # fmt: skip


def perform(scene: Scene, built: Built | None = None, room=None) -> Performance:
    """Play a scene.  Notes of a phrase end within 3 cents of their pitch, in the phrase itself.
    A player's drift is laid over the gesture once that is found, so that it is the same gesture.
    Long traces are put into `room` (see `files.long_arrays`); without one all are arrays.

    Raises SceneError for a note that cannot be played, SimulationError when a run diverges.
    """
    built = built or build(scene)
    gesture = plan(built)
    drift = unsteady(scene, built.rate)
    if not gesture.notes:
        return take(built, gesture, book=True, room=room, drift=drift)
    best, tried = None, [[] for _ in gesture.notes]
    for number in range(MOST_TAKES):
        performance = take(built, gesture, book=True, room=room)
        errors = [_phrase_error(performance, note) for note in gesture.notes]
        heard = heard_joins(performance)
        worst = max((abs(e) for e in errors if e is not None), default=0.0)
        pairs = [(n.join, h) for n, h in zip(gesture.notes, heard, strict=True) if h is not None]
        how = max(worst, CLOSE_ENOUGH), sum(joins.off(*pair) for pair in pairs)
        if best is None or how < best[0]:
            best = how, gesture, errors
        done = worst <= POLISHING and all(joins.is_close(*pair) for pair in pairs)
        if done or number == MOST_TAKES - 1:
            break
        last = number == MOST_TAKES - 2
        again = zip(gesture.notes, errors, heard, tried, strict=True)
        notes = [_set_again(*one, last) for one in again]
        gesture = gesture_of(built, notes, gesture.length)
    _, kept, errors = best
    for note, error in zip(kept.notes, errors, strict=True):
        if error is not None and abs(error) > CLOSE_ENOUGH:
            found = note.frequency * 2 ** (error / 1200)
            told = cannot(built, note, note.frequency, note.pressure.at(0.2), found)
            raise SceneError(f"{told}; in the phrase itself it came out {error:+.1f} cents off")
    if kept is not gesture or drift:  # the same again, sample for sample, but for the drift
        performance = take(built, kept, book=True, room=room, drift=drift)
    return performance


def heard_joins(performance: Performance) -> list[joins.Heard | None]:
    """What is heard of the join that begins each note; None for one begun out of silence."""
    notes, rate = performance.gesture.notes, performance.built.rate
    if all(note.join is None for note in notes):
        return [None] * len(notes)
    sound = performance.radiated_pressure
    found = [
        None if note.join is None else joins.listen(sound, rate, before, note)
        for before, note in pairwise(notes)
    ]
    return [None, *found]


def _set_again(note: PlannedNote, error, heard, tried: list, last: bool) -> PlannedNote:
    """The note with its lips set for what it was off, cents, and its join after what was heard of
    all that were `tried`, for the last take the best of them."""
    if note.join is not None:
        tried.append((note.join, heard, error))
        found = joins.best_join(tried) if last else joins.next_join(tried)
        note = replace(note, join=found)
        if error is not None and abs(error) > joins.WRONG:
            return note  # another slot: the way there was wrong, not the setting
    if error is None or not abs(error) > 0.3:
        return note
    step = float(np.clip(-error / note.slope, -60, 60)) / 1200
    return replace(note, settings=tuple(s * 2**step for s in note.settings))


def _phrase_error(performance: Performance, note: PlannedNote):
    """Cents by which the note came out sharp, or None where it is too short to be measured."""
    rate = performance.built.rate
    part = steady_part(note, rate)
    target = note.frequency * 2 ** (note.bends.first / 1200)
    times = np.linspace(part.start, part.stop, 51) / rate - note.start
    target *= float(np.exp(np.mean(np.log(note.follows(times)))))
    pressure = performance.played.mouthpiece_pressure[part]
    if len(pressure) < 0.08 * rate:
        return None
    if note.vibrato is not None:  # the middle of the wave
        _, track = pitch(pressure, rate, lowest=lowest_for(target))
        known = track[np.isfinite(track)]
        return float(np.mean(1200 * np.log2(known / target))) if len(known) else 1200.0
    found = embouchure.pitch_near(pressure, rate, target)
    return 1200.0 if found is None else cents(found, target)
