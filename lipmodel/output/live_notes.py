"""Lips and breath for every note of a tube: what a key of the live page sets.

A note is set at mf by the embouchure solver, and comes from rest as well as out of the notes above
it: how far below the setting the lips must go first is tried, as the page does it.
"""

import numpy as np

from lipmodel.analysis.pitch import lowest_for, steady_pitch
from lipmodel.bore.valves import has_mark, valve_numbers
from lipmodel.player.build import Built
from lipmodel.player.embouchure import UnreachableError, solve
from lipmodel.player.fingering import PEDAL, SEMITONES, Way, fundamental, ways
from lipmodel.player.short_note import FAR_LOOSER, LOOSER
from lipmodel.units import cents, nearest_note, note_frequency, note_name
from lipmodel.waveguide.state import Block, start
from lipmodel.waveguide.time_loop import advance

DYNAMIC = "mf"
ABOVE, BELOW = 37, 7  # semitones over the second partial of the open tube and under it
HIGHEST = 8  # partials: above it slots are too narrow for a key
FAR = 150.0  # cents from its partial: a bore that is not what its fundamental says
COMES = (LOOSER, 0.92, FAR_LOOSER, 0.82)  # times the setting: tried one after another
IN_TUNE = 12.0  # cents, of a note that came out of another one
# s after a note's beginning: its lips are below, stay there, are at the setting
REACHED, LEFT, ARRIVED = 0.01, 0.04, 0.1
HELD, MEASURED = 0.3, 0.14  # s


def notes_of_valves(built: Built, tube: dict, delays: dict) -> list[dict]:
    """Rows by rising pitch for a tube with valves or a slide, none for another one: sounding
    semitone, written name, valves or slide position, partial, lips in Hz, breath in Pa, and times
    the setting from where lips come.  `delays`: of the lines, by what is held, as `lines_for`
    takes it."""
    if not (valve_numbers(built.spec) or has_mark(built.spec, "slide")):
        return []
    partials = {r["n"]: r["frequency_hz"] for r in tube["resonances"]}
    lines = {(held[0], held[3]): d for held, d in delays.items()}
    found, base = {}, fundamental(built.spec) + 12
    for semitone in range(base - BELOW, base + ABOVE - 12):
        row = _note(built, semitone, partials, lines)
        if row is not None:
            found[semitone] = row
    return [_row(built, s, *_coming(built, found, s)) for s in found]


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


def _coming(built: Built, found: dict, semitone: int):
    """The note's own, and the first of COMES with which it also comes out of notes above it."""
    way, _, setting, breath = found[semitone]
    above = [found[s] for s in (semitone + 2, semitone + 5, semitone + 7) if s in found]
    above = [a for a in above if a[0].partial != way.partial]
    target = note_frequency(semitone, built.scene.notes.a4_hz)
    tried = [c for c in COMES if c <= setting.comes + 1e-9] or [setting.comes]
    missed = [sum(not _comes(built, a, found[semitone], c, target) for a in (None, *above))
              for c in tried]  # fmt: skip
    return way, setting.tension, breath, tried[int(np.argmin(missed))]


def _comes(built: Built, before, note, comes: float, target: float) -> bool:
    """Whether a note is in tune that begins out of `before`, or out of rest."""
    (_, lines, setting, breath), rate = note, built.rate
    time = np.arange(int(HELD * rate)) / rate
    state, first, blown = start(built.horn), comes * setting.tension, 0.0
    if before is not None:
        _, others, other, blown = before
        ones = np.ones(len(time))
        rise = np.minimum(time / 0.02, 1)
        there = np.interp(time, [0.0, ARRIVED], [other.comes * other.tension, other.tension])
        advance(built.horn, state, Block(blown * ones * rise, there, lines_from=others))
        first = other.tension
    below = comes * setting.tension
    lips = np.interp(time, [0.0, REACHED, LEFT, ARRIVED], [first, below, below, setting.tension])
    air = np.interp(time, [0.0, 0.02], [blown, breath])
    played = advance(built.horn, state, Block(air, lips, lines_from=lines)).mouthpiece_pressure
    tail = played[-int(MEASURED * rate) :]
    hz = steady_pitch(tail, rate, floor=20.0, lowest=lowest_for(target))
    return bool(abs(cents(hz, target)) < IN_TUNE)


def notes_of_slots(built: Built, slots: list[dict]) -> list[dict]:
    """The same for a tube that is only blown: one row a slot, played as it rests at its middle."""
    softest = min((s["pressure_pa"] for s in slots), default=0.0)
    rows = {}
    for slot in (s for s in slots if s["pressure_pa"] == softest):
        semitone, _ = nearest_note(slot["plays_hz"], built.scene.notes.a4_hz)
        way = Way("0", 1.0, slot["partial"])
        rows[semitone] = _row(built, semitone, way, slot["centre_hz"], softest, LOOSER)
    return [rows[s] for s in sorted(rows)]


def _row(built: Built, semitone: int, way: Way, tension, breath, comes) -> dict:
    written = note_name(semitone - built.transposition, built.scene.notes.spelling)
    return {
        "semitone": semitone, "written": written, "valves": way.valves,
        "position": way.slide_position, "partial": way.partial, "comes": comes,
        "tension_hz": round(float(tension), 2), "pressure_pa": round(float(breath)),
    }  # fmt: skip
