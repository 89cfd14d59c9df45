"""A scene played: gestures laid out in time, the embouchure found, the time loop run.

Breath and lips become breakpoints in SI; valves move between notes.  The loop runs in blocks of
a quarter of a second whose starting states are kept, so that any moment can be played on from.
"""

from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

from lipmodel import embouchure, fingering, sound
from lipmodel.analysis.pitch import pitch
from lipmodel.build import Built, build, kept_radiation_filter, lines_for, note_pressure
from lipmodel.errors import SceneError
from lipmodel.gesture import line, scaled
from lipmodel.scene import Scene
from lipmodel.timeloop import Block, Played, State, advance, start, stored_energy
from lipmodel.units import cents, nearest_note, note_frequency, note_name

KPA = 1e3
BLOCK = 0.25  # s between two kept states
TONGUE = 0.03  # s of silence between notes, in which lips and valves move
RELEASE = 0.03  # s, in which the breath falls at a note's end
VALVE_TRAVEL = 0.035  # s, of a valve from up to down
CLOSE_ENOUGH = 3.0  # cents, of every note in the rendered phrase
POLISHING = 1.2  # cents: a note further off than this is set again
MOST_TAKES = 6
LONGEST_NOTE_MEASURED = 0.5  # s
LOWEST, HIGHEST = 25.0, 1800.0  # Hz, of notes that lips are set for
VIBRATO_AFTER = 0.3  # s after the attack
VIBRATO_POINTS = 16  # breakpoints a wave


@dataclass
class PlannedNote:
    """A note of a phrase as it will be played, SI; `bends` are (time after start, cents)."""

    name: str
    semitone: int
    start: float
    end: float
    frequency: float
    pressure: object
    valves: str
    lines: np.ndarray
    bends: list
    settings: list = field(default_factory=list)  #: tension at every bend point
    slope: float = embouchure.SLOPE
    vibrato: tuple[float, float] | None = None  #: Hz, cents to either side

    def pressure_at(self, time) -> float:
        """Mouth pressure in Pa at `time` s after the start."""
        if np.isscalar(self.pressure):
            return float(self.pressure)
        times, values = np.array(self.pressure, float).T
        return float(np.interp(time, times, values))


@dataclass(frozen=True)
class Gesture:
    """Breath (Pa) and lips (Hz) as breakpoints or numbers, and when which valves are down."""

    mouth: object
    tension: object
    length: float
    moves: tuple = ()  #: (time, delays of the lines) at which valves start to move
    first_lines: np.ndarray | None = None
    notes: tuple[PlannedNote, ...] = ()


@dataclass(frozen=True)
class Performance:
    """What was played, and the states from which it can be played on."""

    built: Built
    gesture: Gesture
    played: Played
    mouth: np.ndarray
    tension: np.ndarray
    states: list[State]
    books: np.ndarray
    stored: float
    radiated_pressure: np.ndarray

    def lines_at(self, time):
        lines = self.gesture.first_lines
        for at, delays in self.gesture.moves:
            if at + VALVE_TRAVEL <= time:
                lines = delays
        return lines

    def state_at(self, time) -> State:
        """A continuation from `time` seconds."""
        rate = self.built.rate
        sample = min(int(time * rate), len(self.mouth))
        state = [s for s in self.states if s.time <= sample / rate + 1e-9][-1].copy()
        first = round(state.time * rate)
        run_blocks(self.built, self.gesture, state, self.mouth, self.tension, first, sample)
        return state


def plan(built: Built) -> Gesture:
    """The scene's gesture; for a phrase with the embouchure found for every note alone."""
    scene = built.scene
    length = scene.sound.length_s
    player = scene.player
    if player.tension_hz is not None:
        tension = player.tension_hz
        tension = tension if np.isscalar(tension) else list(tension)
        return Gesture(scaled(player.pressure_kpa, KPA), tension, length)
    notes = [_planned(built, note) for note in scene.phrase()]
    known = {}
    for note in notes:
        _find_settings(built, note, known)
    return _gesture_of(built, notes, length)


def _planned(built: Built, note) -> PlannedNote:
    a4 = built.scene.notes.a4_hz
    semitone = built.sounding(note.note)
    frequency = note_frequency(semitone, a4)
    if not LOWEST <= frequency <= HIGHEST:
        raise SceneError(
            f"{built.scene.path}: note {note.note} sounds at {frequency:.0f} Hz: "
            f"expected a note that sounds from {LOWEST:g} to {HIGHEST:g} Hz"
        )
    valves = note.valves
    if valves == "auto":
        way = fingering.usual(built.spec, semitone)
        valves = way.valves if way else "0"
    lines = lines_for(
        built, valves, note.first_slide_pull_mm or 0.0, note.third_slide_pull_mm or 0.0
    )
    bend = note.bend_cents
    bends = [(0.0, float(bend))] if np.isscalar(bend) else [(float(t), float(c)) for t, c in bend]
    pressure = note_pressure(built, note, frequency)
    points = built.scene.player.pressure_kpa
    if points is not None and note.pressure_kpa is None and note.dynamic is None:
        pressure = [(t - note.start_s, v * KPA) for t, v in points]  # in the scene's time
    planned = PlannedNote(
        note.note, semitone, note.start_s, note.end_s, frequency, pressure, valves, lines, bends
    )
    if note.vibrato is not None:
        planned.vibrato = (note.vibrato.rate_hz, note.vibrato.depth_cents)
    return planned


def _find_settings(built, note: PlannedNote, known: dict):
    """Lip setting at each bend point, each found alone; equal notes are found once."""
    note.settings = []
    for i, (time, bend) in enumerate(note.bends):
        mouth = note.pressure_at(min(time + 0.2, note.end - note.start))
        target = note.frequency * 2 ** (bend / 1200)
        before = None
        if i or bend:
            middle = note.frequency if not i else note.frequency * 2 ** (note.bends[0][1] / 1200)
            before = _setting(built, note, middle, mouth, known, None).tension
            if abs(cents(target, middle)) < 0.5:
                note.settings.append(before)
                continue
        found = _setting(built, note, target, mouth, known, before)
        note.settings.append(found.tension)
        note.slope = found.slope


def _setting(built, note, target, mouth, known, before):
    key = (round(target, 4), round(mouth, 2), note.lines.tobytes(), before)
    if key not in known:
        try:
            near = None if before is None else before * 2 ** (cents(target, note.frequency) / 400)
            known[key] = embouchure.solve(built.horn, target, mouth, note.lines, near, before)
        except embouchure.UnreachableError as error:
            raise SceneError(_cannot(built, note, target, mouth, error.nearest)) from error
    return known[key]


def _cannot(built, note: PlannedNote, target, mouth, nearest) -> str:
    """One line: the note, the nearest pitch, and what would help."""
    scene = built.scene
    valves = "open" if note.valves == "0" else f"valves {note.valves}"
    begin = f"{scene.path}: note {note.name} at {note.start:g} s ({valves}, {mouth / KPA:.3g} kPa)"
    spelling = scene.notes.spelling
    if nearest is None:
        need = built.horn.lips.threshold_per_hz * target / KPA
        return (
            f"{begin}: no lip setting sounds; more breath would help "
            f"(such a note begins at about {need:.2g} kPa)"
        )
    semitone, off = nearest_note(nearest, scene.notes.a4_hz)
    shift = built.transposition if scene.notes.read_as == "written" else 0
    name = note_name(semitone - shift, spelling)
    helps = ["more breath"]
    usual = fingering.usual(built.spec, note.semitone)
    if usual is not None and usual.valves != note.valves:
        helps.insert(0, f'valves = "{usual.valves}"')
    return (
        f"{begin}: no lip setting plays it; the nearest reachable pitch is {nearest:.1f} Hz "
        f"({name} {off:+.0f} cents); what would help: {' or '.join(helps)}"
    )


def _gesture_of(built, notes, length) -> Gesture:
    """Breakpoints of breath and lips, and valve moves, for notes with known settings."""
    mouth, tension, moves = [(0.0, 0.0)], [], []
    lines = notes[0].lines
    for note in notes:
        span = note.end - note.start
        attack = min(embouchure.ATTACK, span / 4)
        release = min(RELEASE, span / 4)
        inner = [] if np.isscalar(note.pressure) else note.pressure
        mouth.append((note.start, 0.0))
        mouth.append((note.start + attack, note.pressure_at(attack)))
        mouth += [(note.start + t, p) for t, p in inner if attack < t < span - release]
        mouth += [(note.end - release, note.pressure_at(span - release)), (note.end, 0.0)]
        first = note.settings[0]
        tension.append((note.start, embouchure.FROM_ABOVE * first))
        tension.append((note.start + min(embouchure.SETTLING, span / 3), first))
        inner = [
            (note.start + time, setting)
            for (time, _), setting in zip(note.bends, note.settings, strict=True)
            if embouchure.SETTLING < time < span - release
        ]
        inner.append((note.end - release / 2, note.settings[-1]))
        tension += inner if note.vibrato is None else _waved(note, tension[-1], inner)
        if not np.array_equal(note.lines, lines):
            moves.append((max(0.0, note.start - VALVE_TRAVEL), note.lines))
            lines = note.lines
    return Gesture(
        _rising(mouth), _rising(tension), length, tuple(moves), notes[0].lines, tuple(notes)
    )


def _waved(note: PlannedNote, before, points):
    """Breakpoints of the lips with their vibrato: the setting swings further than the pitch,
    since the column holds it."""
    rate, depth = note.vibrato
    times, settings = np.array([before, *points]).T
    begin = note.start + VIBRATO_AFTER
    if times[-1] <= begin:
        return points
    at = np.arange(begin, times[-1], 1 / (VIBRATO_POINTS * rate))
    swing = depth / max(note.slope, 0.1) * np.sin(2 * np.pi * rate * (at - begin))
    waved = np.exp(np.interp(at, times, np.log(settings))) * 2 ** (swing / 1200)
    early = [p for p in points if p[0] < begin]
    return [*early, *zip(at.tolist(), waved.tolist(), strict=True), points[-1]]


def _rising(points):
    """Breakpoints in order; of two at one time the later one stays, a little after."""
    out = []
    for time, value in points:
        if out and time <= out[-1][0]:
            time = out[-1][0] + 1e-6
        out.append((time, value))
    return out


def run_blocks(built, gesture, state, mouth, tension, first, last, keep=None, book=False):
    """Advance `state` from sample `first` to `last` of the controls; `keep` collects states.

    Returns the pieces played, in order.
    """
    rate = built.rate
    travel = int(VALVE_TRAVEL * rate)
    moves = [(int(t * rate), delays) for t, delays in gesture.moves]
    edges = {first, last}
    edges.update(range(0, last, int(BLOCK * rate)))
    for at, _ in moves:
        edges.update((at, at + travel))
    edges = sorted(e for e in edges if first <= e <= last)
    pieces = []
    for begin, stop in pairwise(edges):
        if keep is not None and begin % int(BLOCK * rate) == 0:
            keep.append(state.copy())
        old, new, mix = gesture.first_lines, None, None
        for at, delays in moves:
            if at + travel <= begin:
                old = delays
            elif at <= begin:
                new = delays
                mix = (begin - at + np.arange(stop - begin)) / travel
        block = Block(mouth[begin:stop], tension[begin:stop], mix, old, new, travel)
        pieces.append(advance(built.horn, state, block, book))
    return pieces


def _take(built: Built, gesture: Gesture, book=False) -> Performance:
    rate, samples = built.rate, round(gesture.length * built.rate)
    mouth = line(gesture.mouth, rate, samples)
    tension = line(gesture.tension, rate, samples)
    state = start(built.horn)
    states = []
    pieces = run_blocks(built, gesture, state, mouth, tension, 0, samples, states, book)
    names = Played.__dataclass_fields__
    played = Played(*(np.concatenate([getattr(p, n) for p in pieces]) for n in names))
    response = kept_radiation_filter(built)
    admittance = built.horn.ladder.admittance[-1]
    heard = sound.radiated(played.out_wave, played.back_wave, admittance, response)
    return Performance(
        built, gesture, played, mouth, tension, states, state.books.copy(),
        stored_energy(built.horn, state), heard,
    )  # fmt: skip


def perform(scene: Scene, built: Built | None = None) -> Performance:
    """Play a scene.  Notes of a phrase end within 3 cents of their pitch, in the phrase itself.

    Raises SceneError for a note that cannot be played, SimulationError when a run diverges.
    """
    built = built or build(scene)
    gesture = plan(built)
    if not gesture.notes:
        return _take(built, gesture, book=True)
    for number in range(MOST_TAKES):
        performance = _take(built, gesture, book=True)
        errors = [_phrase_error(performance, note) for note in gesture.notes]
        worst = max((abs(e) for e in errors if e is not None), default=0.0)
        if worst <= POLISHING or number == MOST_TAKES - 1:
            break
        for note, error in zip(gesture.notes, errors, strict=True):
            if error is not None and abs(error) > 0.3:
                step = float(np.clip(-error / note.slope, -60, 60)) / 1200
                note.settings = [s * 2**step for s in note.settings]
        gesture = _gesture_of(built, list(gesture.notes), gesture.length)
    for note, error in zip(gesture.notes, errors, strict=True):
        if error is not None and abs(error) > CLOSE_ENOUGH:
            found = note.frequency * 2 ** (error / 1200)
            told = _cannot(built, note, note.frequency, note.pressure_at(0.2), found)
            raise SceneError(f"{told}; in the phrase itself it came out {error:+.1f} cents off")
    return performance


def steady_part(note: PlannedNote, rate) -> slice:
    """Samples in which a note's first pitch is steady: after the attack, before bend or end."""
    span = note.end - note.start
    until = span - 2 * RELEASE
    if len(note.bends) > 1:  # until the bend moves away from where it starts
        first = note.bends[0][1]
        away = next((i for i, (_, c) in enumerate(note.bends) if c != first), len(note.bends))
        until = min(until, max(note.bends[away - 1][0], 0.25))
    begin = min(0.3 if until > 0.5 else 0.5 * until, until - 0.05)
    stop = min(until, begin + LONGEST_NOTE_MEASURED)
    if note.vibrato is not None:  # whole waves
        waves = int((until - begin) * note.vibrato[0])
        stop = begin + max(waves, 1) / note.vibrato[0] if waves else stop
    first = int((note.start + max(begin, 0)) * rate)
    return slice(first, int((note.start + stop) * rate))


def _phrase_error(performance: Performance, note: PlannedNote):
    """Cents by which the note came out sharp, or None where it is too short to be measured."""
    rate = performance.built.rate
    part = steady_part(note, rate)
    target = note.frequency * 2 ** (note.bends[0][1] / 1200)
    pressure = performance.played.mouthpiece_pressure[part]
    if len(pressure) < 0.08 * rate:
        return None
    if note.vibrato is not None:  # the middle of the wave
        _, track = pitch(pressure, rate)
        known = track[np.isfinite(track)]
        return float(np.mean(1200 * np.log2(known / target))) if len(known) else 1200.0
    found = embouchure.measured(pressure, rate, target)
    return 1200.0 if found is None else cents(found, target)
