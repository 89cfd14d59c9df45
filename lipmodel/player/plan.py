"""A scene's gesture laid out in time: what breath, lips, valves and slide will do.

Breath and lips become breakpoints in SI; valves and slide move between notes, the slide within
them too; the embouchure of every note is found alone.
"""

from dataclasses import replace
from itertools import pairwise

import numpy as np

from lipmodel.bore.valves import has_mark
from lipmodel.errors import SceneError
from lipmodel.player import articulation, embouchure, fingering, joins
from lipmodel.player.breakpoints import Breakpoints
from lipmodel.player.build import Built, horn_at, note_pressure, shift
from lipmodel.player.cached import kept_resonances
from lipmodel.player.gesture import STILL, Gesture, PlannedNote
from lipmodel.player.slide import along, note_slide, phrase_motion, scene_motion, travel_time
from lipmodel.player.tubing import held_bore, lines_for, slide_tube, valve_tube
from lipmodel.units import KPA, cents, nearest_note, note_frequency, note_name, parse_note

LOWEST, HIGHEST = 25.0, 1800.0  # Hz, of notes that lips are set for
HARDER = (1.0, 1.1, 1.2, 1.3, 1.45, 1.6)  # times the pressure of a marking, until a note speaks
ANOTHER = 0.4  # positions: further off than this a slide is somewhere else
SMEARED = 0.35  # of the slide's travel in which the note before may still be heard
TONGUED = ("tongued", "detached", "accent")
FOLLOWED = 1.0  # positions: so near each other lie those at which the column is looked at


def plan(built: Built) -> Gesture:
    """The scene's gesture; for a phrase with the embouchure found for every note alone."""
    scene = built.scene
    length = scene.sound.length_s
    player = scene.player
    if player.tension_hz is not None:
        breath = Breakpoints.of(player.pressure_kpa).scaled(KPA)
        tension = Breakpoints.of(player.tension_hz)
        moves, first = valve_moves(built)
        return Gesture(breath, tension, length, moves, first, slide=scene_motion(built))
    written, known = scene.phrase(), {}
    notes = [planned(built, note) for note in written]
    notes = [_with_lips(built, *pair, known) for pair in zip(notes, written, strict=True)]
    return gesture_of(built, _joined(built, notes, written), length)


def valve_moves(built: Built):
    """When the lines of a scene with a lip setting start on their way, s, and where to; and where
    they are first: None where valves stay.  One moved too soon waits for the one before, and of
    several that wait the last one goes."""
    given = built.scene.instrument
    if not given.valve_moves:
        return (), None
    pulls = given.first_slide_pull_mm, given.third_slide_pull_mm
    found, free = [], 0.0
    for time, valves in given.valve_moves:
        if found and found[-1][0] > time:
            free = found.pop()[0]
        found.append((max(time, free), lines_for(built, valves, *pulls)))
        free = found[-1][0] + joins.VALVE_TRAVEL
    return tuple(found), lines_for(built, given.valves, *pulls)


def _joined(built: Built, notes, written) -> list[PlannedNote]:
    """The notes, each begun out of the one before it, no two quite alike."""
    scene, found = built.scene, notes[:1]
    per_hz = built.horn.lips.threshold_per_hz
    kinds = joins.kinds(written, scene.player.notes)
    uneven = joins.unevenness(scene.sound.seed, len(notes)).tolist()
    for (before, note), kind, (late, force) in zip(
        pairwise(notes), kinds[1:], uneven[1:], strict=True
    ):
        join = joins.first_join(kind, before, note, per_hz)
        if kind == "slur":
            late, force = 0.0, 1.0
        found.append(replace(note, join=join, late=late, surge=note.surge * force))
    return found


def _with_lips(built: Built, note: PlannedNote, written, known: dict) -> PlannedNote:
    """The note with its lips set, and following the slide."""
    marked = written.pressure_kpa is None and written.dynamic is not None
    note = _blown(built, note, known) if marked else _with_settings(built, note, known)
    return replace(note, follow=_followed_column(built, note))


def sounding_frequency(scene, note) -> float:
    """Hz of a note of the scene; SceneError where no lips are set for it."""
    frequency = note_frequency(parse_note(note.note) + shift(scene), scene.notes.a4_hz)
    if not LOWEST <= frequency <= HIGHEST:
        raise SceneError(
            f"{scene.path}: note {note.note} sounds at {frequency:.0f} Hz: "
            f"expected a note that sounds from {LOWEST:g} to {HIGHEST:g} Hz"
        )
    return frequency


def planned(built: Built, note) -> PlannedNote:
    """A note of the scene as it will be played, its lips not set yet."""
    semitone = built.sounding(note.note)
    frequency = sounding_frequency(built.scene, note)
    valves = note.valves
    if valves == "auto":
        way = fingering.usual(built.spec, semitone)
        valves = way.valves if way else "0"
    attack = note.attack
    if attack == "plain" and note.articulation in TONGUED:
        attack = "tongued"
    pulls = note.first_slide_pull_mm or 0.0, note.third_slide_pull_mm or 0.0
    slide = along(note_slide(built, note, semitone, frequency), 0.0, note.length_s)
    pressure = note_pressure(built, note, frequency)
    points = built.scene.player.pressure_kpa
    if points is not None and note.pressure_kpa is None and note.dynamic is None:
        pressure = Breakpoints.of(points).scaled(KPA).later(-note.start_s)  # in the scene's time
    length = note.length_s * (joins.DETACHED if note.articulation == "detached" else 1.0)
    planned = PlannedNote(
        name=note.note,
        semitone=semitone,
        start=note.start_s,
        end=note.start_s + length,
        frequency=frequency,
        pressure=pressure,
        valves=valves,
        lines=lines_for(built, valves, *pulls, slide.first),
        bends=Breakpoints.of(note.bend_cents),
        attack=attack,
        surge=articulation.surge(attack, note.articulation),
        swelled=isinstance(note.dynamic, tuple) and note.pressure_kpa is None,
        release=note.release_ms / 1e3,
        vibrato=note.vibrato,
        slide=slide,
        pulls=pulls,
        valve_tube=valve_tube(built, valves, *pulls),
    )
    _check_sway(built, planned)
    return planned


def _check_sway(built, note: PlannedNote):
    """SceneError for a vibrato by slide that would push the slide further in than it goes."""
    if note.vibrato is None or note.vibrato.by != "slide":
        return
    furthest_in = min(note.slide.values)
    least = 1 + furthest_in - min(articulation.swayed(note).values)
    if furthest_in < least - 1e-9:
        raise SceneError(
            f"{built.scene.path}: note {note.name} at {note.start:g} s: vibrato by slide of "
            f"{note.vibrato.depth_cents:g} cents: expected slide_position = {least:.2f} or more: "
            "it cannot go further in than 1"
        )


def _blown(built, note: PlannedNote, known: dict) -> PlannedNote:
    """A note that only has a marking, blown as hard as it needs to speak, with its settings."""
    for more in HARDER:
        last = more == HARDER[-1]
        try:
            found = _with_settings(built, replace(note, pressure=note.pressure.scaled(more)), known)
        except SceneError:
            if last:
                raise
            continue
        horn = horn_at(built, note.start)
        key = (found.settings[0], found.pressure.first, found.lines.tobytes(), horn.mouth)
        if key not in known:
            known[key] = embouchure.speaks(horn, *key[:2], found.lines)
        if known[key] or last:
            break
    return found


def _with_settings(built, note: PlannedNote, known: dict) -> PlannedNote:
    """The note with a lip setting at each bend point, each found alone; equal notes are found
    once."""
    settings, slope, comes = [], note.slope, note.comes
    for i, time in enumerate(note.lip_times):
        bend = note.bends.at(time)
        later = 0.0 if note.swelled else 0.2
        mouth = note.pressure.at(min(time + later, note.end - note.start))
        target = note.frequency * 2 ** (bend / 1200)
        before = None
        if (i or bend) and not note.swelled:
            middle = note.frequency if not i else note.frequency * 2 ** (note.bends.first / 1200)
            before = _setting(built, note, middle, mouth, known, None).tension
            if abs(cents(target, middle)) < 0.5:
                settings.append(before)
                continue
        found = _setting(built, note, target, mouth, known, before)
        settings.append(found.tension)
        slope, comes = found.slope, found.comes
    return replace(note, settings=tuple(settings), slope=slope, comes=comes)


def _followed_column(built, note: PlannedNote) -> Breakpoints:
    """How far the note's resonance moves with the slide: the lips follow in proportion."""
    places = np.array(note.slide.values)
    if np.ptp(places) == 0:
        return STILL
    count = 2 + int(np.ptp(places) / FOLLOWED)
    grid = np.linspace(places.min(), places.max(), count)
    length = built.bore.length + note.valve_tube
    lengths = np.array([length + slide_tube(built, p, note.valve_tube) for p in (places[0], *grid)])
    near, found = note.frequency, []
    for i, place in enumerate((places[0], *grid)):
        column = kept_resonances(held_bore(built, note.valves, float(place), note.pulls), built.air)
        # the same partial: nearest to where the length alone would bring it
        expected = near * lengths[0] / lengths[i]
        nearest = min((r.frequency for r in column), key=lambda f: abs(cents(f, expected)))
        if i == 0:
            near = nearest
        found.append(np.log(nearest))
    column = np.interp(places, grid, found[1:]) - found[0]
    return Breakpoints(note.slide.times, tuple(np.exp(column).tolist()))


def _setting(built, note, target, mouth, known, before):
    horn = horn_at(built, note.start)
    key = (round(target, 4), round(mouth, 2), note.lines.tobytes(), before, horn.mouth)
    if key not in known:
        try:
            near = None if before is None else before * 2 ** (cents(target, note.frequency) / 400)
            known[key] = embouchure.solve(horn, target, mouth, note.lines, near, before)
        except embouchure.UnreachableError as error:
            raise SceneError(cannot(built, note, target, mouth, error.nearest)) from error
    return known[key]


def cannot(built, note: PlannedNote, target, mouth, nearest) -> str:
    """One line: the note, the nearest pitch, and what would help."""
    scene = built.scene
    valves = "open" if note.valves == "0" else f"valves {note.valves}"
    if has_mark(built.spec, "slide"):
        valves += f", slide position {note.slide.first:.3g}"
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
    if usual is not None and abs(usual.slide_position - note.slide.first) > ANOTHER:
        helps.insert(0, f"slide_position = {usual.slide_position:g}")
    return (
        f"{begin}: no lip setting plays it; the nearest reachable pitch is {nearest:.1f} Hz "
        f"({name} {off:+.0f} cents); what would help: {' or '.join(helps)}"
    )


def gesture_of(built, notes, length) -> Gesture:
    """Breakpoints of breath and lips, valve moves and the slide, for notes with known settings."""
    motion = phrase_motion(built, notes)
    if motion is not None:
        notes = _with_way_made(built, notes)
    mouth, tension, firm_for, moves = [(0.0, 0.0)], [], [], []
    first_lines = lines = _lines_of(built, notes[0], motion)
    for note, later in zip(notes, [*notes[1:], None], strict=True):
        after = later and later.join
        mouth += articulation.breath(note, after)
        tension += articulation.lips(note, after)
        firm_for += articulation.firm_for(note, after)
        wanted = _lines_of(built, note, motion)
        if not np.array_equal(wanted, lines):
            moves.append((max(0.0, note.start - joins.valves_leave(note.join)), wanted))
            lines = wanted
    return Gesture(
        Breakpoints.of(_rising(mouth)),
        Breakpoints.of(_rising(tension)),
        length,
        tuple(moves),
        first_lines,
        tuple(notes),
        motion,
        Breakpoints.of(_rising(firm_for)),
    )


def _lines_of(built, note: PlannedNote, motion):
    """The lines with the note's valves; with its slide where that stays for the whole run."""
    if motion is None:
        return note.lines
    return lines_for(built, note.valves, *note.pulls)


def _with_way_made(built, notes) -> list[PlannedNote]:
    """The notes, the breath gone or held back by the tongue while the slide is on its way."""
    found = [notes[0]]
    for after in notes[1:]:
        note = found.pop()
        here = slide_tube(built, note.slide.last, note.valve_tube)
        way = slide_tube(built, after.slide.first, after.valve_tube) - here
        if way:
            time, pause = travel_time(way), after.start - note.end
            most = (note.end - note.start) / 3
            note = replace(note, leaving=float(np.clip(time - pause, 0.0, most)))
            if after.join is None:
                quiet = float(np.clip((1 - SMEARED) * time - pause, 0.0, most))
                note = replace(note, quiet=quiet)
            else:
                after = replace(after, join=joins.over_the_way(after.join, min(time, most)))
        found += [note, after]
    return found


def _rising(points):
    """Breakpoints in order; of two at one time the later one stays, a little after."""
    out = []
    for time, value in points:
        if out and time <= out[-1][0]:
            time = out[-1][0] + 1e-6
        out.append((time, value))
    return out
