"""Lips and breath for every note of a tube: what a key of the live page sets.

A note is set at mf by the embouchure solver, and is to come out of rest as well as out of notes
below and above it: where the lips must go first for that is tried, as the page does it.
"""

import numpy as np

from lipmodel.analysis.pitch import lowest_for, steady_pitch
from lipmodel.bore.valves import has_mark, valve_numbers
from lipmodel.player.build import Built
from lipmodel.player.embouchure import UnreachableError, solve
from lipmodel.player.fingering import PEDAL, SEMITONES, Way, fundamental, ways
from lipmodel.player.short_note import FAR_LOOSER, LOOSER
from lipmodel.units import cents, nearest_note, note_frequency, note_name
from lipmodel.waveguide.state import Block, State, start
from lipmodel.waveguide.time_loop import advance

DYNAMIC = "mf"
ABOVE, BELOW = 37, 7  # semitones over the second partial of the open tube and under it
HIGHEST = 8  # partials: above it slots are too narrow for a key
FAR = 150.0  # cents from its partial: a bore that is not what its fundamental says
# times the setting to which lips go first: tried one after another
COMES = (LOOSER, 1.0, 0.92, 1.05, FAR_LOOSER, 1.1, 0.82)
IN_TUNE = 12.0  # cents, of a note that came out of another one
# s after a note's beginning: lips are where they go first, leave it, are at the setting; the breath
REACHED, LEFT, ARRIVED, RISE = 0.01, 0.04, 0.1, 0.02
NEIGHBOURS = (1, 4, 7, 12)  # semitones to either side of a note, out of which it is tried
HELD, MEASURED = 0.3, 0.14  # s


def notes_of_valves(built: Built, tube: dict, delays: dict) -> list[dict]:
    """Rows by rising pitch for a tube with valves or a slide, none for another one: sounding
    semitone, written name, valves or slide position, partial, lips in Hz, breath in Pa, and from
    how many times the setting lips come out of rest, out of lower and out of higher notes.

    `delays`: of the lines, by what is held, as `lines_for` takes it.
    """
    if not (valve_numbers(built.spec) or has_mark(built.spec, "slide")):
        return []
    partials = {r["n"]: r["frequency_hz"] for r in tube["resonances"]}
    lines = {(held[0], held[3]): d for held, d in delays.items()}
    found, base = {}, fundamental(built.spec) + 12
    for semitone in range(base - BELOW, base + ABOVE - 12):
        row = _note(built, semitone, partials, lines)
        if row is not None:
            found[semitone] = row
    sounding = {}
    return [_row(built, s, *_coming(built, found, s, sounding)) for s in found]


def _note(built: Built, semitone: int, partials: dict, lines: dict):
    """(way, lines, Setting, breath) of a note, None where no way that is there plays it."""
    hz = note_frequency(semitone, built.scene.notes.a4_hz)
    breath = built.horn.lips.breath(DYNAMIC, hz)
    for way in ways(built.spec, semitone):
        held = lines.get((way.valves, way.slide_position))
        if held is None or not PEDAL < way.partial <= HIGHEST or way.partial not in partials:
            continue
        if abs(cents(partials[way.partial], hz) - _lowered(built, way, semitone)) > FAR:
            continue
        try:
            return way, held, solve(built.horn, hz, breath, held), breath
        except UnreachableError:
            continue
    return None


def _lowered(built: Built, way: Way, semitone: int) -> float:
    """Cents by which the open tube's partial lies above the note by name."""
    return 100.0 * (fundamental(built.spec) + SEMITONES[way.partial] - semitone)


def _coming(built: Built, found: dict, semitone: int, sounding: dict):
    """The note's own, and from where its lips come out of rest, out of notes below it and out of
    notes above it.  `sounding`: states in which notes have been found to sound."""
    way, _, setting, breath = found[semitone]
    ways = [setting.comes]
    for side in (-1, 1):
        others = [s for s in (semitone + side * n for n in NEIGHBOURS) if s in found]
        others = [s for s in others if found[s][0].partial != way.partial]
        for s in others:
            if s not in sounding:
                sounding[s] = _sounding(built, found[s])
        begun = [(sounding[s], found[s]) for s in others]
        ways.append(_first_way(built, found[semitone], semitone, begun))
    return way, setting.tension, breath, *ways


def _first_way(built: Built, note, semitone: int, begun) -> float:
    """The first of COMES with which a note comes out of all others, or out of most."""
    target, best = note_frequency(semitone, built.scene.notes.a4_hz), None
    for comes in COMES:
        missed = sum(not _comes(built, note, comes, target, *one) for one in begun)
        if best is None or missed < best[0]:
            best = missed, comes
        if missed == 0:
            break
    return best[1]


def _sounding(built: Built, note) -> State:
    """A note that has begun out of rest."""
    _, lines, setting, breath = note
    time, state = np.arange(int(HELD * built.rate)) / built.rate, start(built.horn)
    lips = np.interp(time, [0.0, ARRIVED], [setting.comes * setting.tension, setting.tension])
    rise = np.minimum(time / RISE, 1)
    advance(built.horn, state, Block(breath * rise, lips, lines_from=lines))
    return state


def _comes(built: Built, note, comes: float, target: float, state: State, before) -> bool:
    """Whether a note is in tune that begins out of the state in which `before` sounds."""
    (_, lines, setting, breath), rate = note, built.rate
    time, below = np.arange(int(HELD * rate)) / rate, comes * setting.tension
    places = [before[2].tension, below, below, setting.tension]
    lips = np.interp(time, [0.0, REACHED, LEFT, ARRIVED], places)
    block = Block(np.interp(time, [0.0, RISE], [before[3], breath]), lips, lines_from=lines)
    tail = advance(built.horn, state.copy(), block).mouthpiece_pressure[-int(MEASURED * rate) :]
    hz = steady_pitch(tail, rate, floor=20.0, lowest=lowest_for(target))
    return bool(abs(cents(hz, target)) < IN_TUNE)


def notes_of_slots(built: Built, slots: list[dict]) -> list[dict]:
    """The same for a tube that is only blown: one row a slot, played as it rests at its middle."""
    softest = min((s["pressure_pa"] for s in slots), default=0.0)
    rows = {}
    for slot in (s for s in slots if s["pressure_pa"] == softest):
        semitone, _ = nearest_note(slot["plays_hz"], built.scene.notes.a4_hz)
        way = Way("0", 1.0, slot["partial"])
        ways = LOOSER, LOOSER, LOOSER
        rows[semitone] = _row(built, semitone, way, slot["centre_hz"], softest, *ways)
    return [rows[s] for s in sorted(rows)]


def _row(built, semitone: int, way: Way, tension, breath, begins, rises, falls) -> dict:
    written = note_name(semitone - built.transposition, built.scene.notes.spelling)
    return {
        "semitone": semitone, "written": written, "valves": way.valves,
        "position": way.slide_position, "partial": way.partial,
        "begins": begins, "rises": rises, "falls": falls,
        "tension_hz": round(float(tension), 2), "pressure_pa": round(float(breath)),
    }  # fmt: skip
