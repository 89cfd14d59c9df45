"""What sounds at every lip setting and breath: one cell of a map, and what its neighbours tell.

A cell is a short note from rest, begun as in a phrase.  Whether it is locked, bent or free shows
only beside the others of its row: they are one sweep of the lips at one breath.
"""

from dataclasses import dataclass, replace

import numpy as np

from lipmodel.air import Air, AirColumn
from lipmodel.analysis.lock import BENT, JUMP, SLOT_LOCK, UNSTEADY, lock
from lipmodel.analysis.pitch import pitch, refine
from lipmodel.analysis.threshold import threshold
from lipmodel.bore.geometry import Bore
from lipmodel.errors import SimulationError
from lipmodel.player.short_note import play_note
from lipmodel.units import cents
from lipmodel.waveguide.state import Horn, State

MEASURED = 0.2  # s at the end of a note, or half of a shorter one
SILENT = 20.0  # Pa rms in the mouthpiece: what the attack leaves; the softest notes have hundreds
NO_PARTIAL = 0  # in an array of partials
STATES = ("silent", "unsteady", "free", "bent", "locked")
COLUMNS = ("frequency", "lock", "rms", "sounding")
RUNAWAY = np.nan, np.nan, np.nan, 1.0


@dataclass(frozen=True)
class MapSetup:
    """What every cell of a map shares: horn, bore, air and the length of a note in s."""

    horn: Horn
    bore: Bore
    air: Air | AirColumn
    note: float


def play_cell(played: MapSetup, tension, mouth) -> tuple[float, float, float, float]:
    """One note at `tension` Hz and `mouth` Pa, from rest.

    Returns playing frequency in Hz (nan: silent or unsteady), lock (nan where a nudge of the lips
    jumps or falls silent), mouthpiece pressure in Pa rms, and 1 if anything sounds, else 0.
    A note whose pressure runs out of the model's range sounds, without figures.
    """
    rate = played.horn.rate
    try:
        tail, state = note(played, tension, mouth)
        rms = float(np.std(tail))
        if rms < SILENT:
            return np.nan, np.nan, rms, 0.0
        frequency = steady(tail, rate)
        if np.isnan(frequency):
            return np.nan, np.nan, rms, 1.0
        locked = lock(played.horn, state, mouth, tension, None, frequency)
    except SimulationError:
        return RUNAWAY
    return frequency, np.nan if locked is None else locked, rms, 1.0


def note(played: MapSetup, tension, mouth) -> tuple[np.ndarray, State]:
    """Mouthpiece pressure in Pa over the end of one note from rest, and the state it ends in."""
    sound, state = play_note(played.horn, tension, mouth, played.note)
    length = int(min(MEASURED, played.note / 2) * played.horn.rate)
    return sound.mouthpiece_pressure[-length:], state


def steady(signal, rate) -> float:
    """Frequency in Hz of a steady sound, nan where it is not periodic or its pitch wanders."""
    _, track = pitch(signal, rate, SILENT)
    known = track[np.isfinite(track)]
    if len(known) < 0.5 * len(track) or not len(known):
        return np.nan
    if np.std(1200 * np.log2(known)) > UNSTEADY:
        return np.nan
    middle = float(np.median(known))
    found = refine(signal, rate, middle)
    # a growl far beyond ff has no period that could be refined
    return found if abs(cents(found, middle)) < UNSTEADY else np.nan


def cells(played: MapSetup, mouth, tensions, resonance=None) -> np.ndarray:
    """Part of a row: the cells at one `mouth` pressure in Pa, and one `resonance` of the mouth in
    Hz unless it is the horn's own, shape (n, len(COLUMNS))."""
    if resonance is not None:
        tract = replace(played.horn.mouth, resonance=resonance)
        played = replace(played, horn=replace(played.horn, mouth=tract))
    return np.array([play_cell(played, tension, mouth) for tension in tensions])


def threshold_at(played: MapSetup, tension, resonance) -> tuple[float, float]:
    """Pressure in Pa and frequency in Hz at which the note near `resonance` Hz begins; nan, nan
    where no pressure makes it begin."""
    horn = played.horn
    onset = threshold(played.bore, played.air, horn.lips, tension, resonance, tract=horn.mouth)
    return (np.nan, np.nan) if onset is None else (onset.pressure, onset.frequency)


def partials(frequency, resonances) -> np.ndarray:
    """Number of the nearest resonance in cents, ties upward, of the shape of `frequency`.

    `resonances` in Hz, rising, shape (m,).  NO_PARTIAL where nothing sounds or nothing resonates.
    """
    frequency, resonances = np.asarray(frequency, float), np.asarray(resonances, float)
    result = np.full(frequency.shape, NO_PARTIAL)
    known = np.isfinite(frequency)
    if len(resonances):
        bounds = np.sqrt(resonances[1:] * resonances[:-1])
        result[known] = 1 + np.searchsorted(bounds, frequency[known], side="right")
    return result


def states(tension, frequency, lock, partial, sounding) -> np.ndarray:
    """One of STATES for each cell of a row; all arrays of shape (n,), tension and frequency in Hz.

    A branch is a stretch of one partial without a jump; a slot is a stretch of a branch with lock
    >= 0.5, and its centre plays the resting pitch.  Locked: in a slot and within 30 cents of that
    pitch; bent: elsewhere on a branch that has a slot; free: on a branch without.
    """
    result = np.where(sounding > 0, "unsteady", "silent").astype(object)
    for branch in _branches(tension, frequency, partial):
        slots = _stretches(branch, lock[branch] >= SLOT_LOCK)
        result[branch] = "bent" if slots else "free"
        for slot in slots:
            centre = 0.5 * (np.log(tension[slot[0]]) + np.log(tension[slot[-1]]))
            resting = np.interp(centre, np.log(tension[slot]), np.log(frequency[slot]))
            near = 1200 / np.log(2) * np.abs(np.log(frequency[slot]) - resting) <= BENT
            result[slot[near]] = "locked"
    return result


def _branches(tension, frequency, partial):
    """Columns of each branch of a row.  The pitch may move as far as the lips; further by more
    than 60 cents it has jumped."""
    lips = 1200 * np.diff(np.log2(tension))
    heard = 1200 * np.abs(np.diff(np.log2(frequency)))
    joined = (partial[1:] == partial[:-1]) & (heard <= lips + JUMP)
    pieces = np.split(np.arange(len(tension)), np.flatnonzero(~joined) + 1)
    return [piece for piece in pieces if np.isfinite(frequency[piece[0]])]


def _stretches(columns, inside):
    pieces = np.split(np.arange(len(columns)), np.flatnonzero(np.diff(inside)) + 1)
    return [columns[piece] for piece in pieces if inside[piece[0]]]
