"""Notes in a pitch track: where one begins and ends, and which are worth telling.

A note of a sweep is what lies between two jumps; its telling moment is the middle of the stretch
where the pitch moves less than half as fast as the lips.
"""

from dataclasses import dataclass

import numpy as np

from lipmodel.analysis.lock import JUMP, SLOT_LOCK, steady_pieces, sweep_lock

SHORTEST = 0.2  # s
STEADY = 30.0  # cents between neighbouring frames of a note
LIPS_STILL = 40.0  # cents: where the setting moves less than this the note is held, not swept


@dataclass(frozen=True, slots=True)
class Span:
    """A note from `start` to `end` seconds; `at` is its telling moment, `swept` whether the
    lips moved through it, `lock` the sweep's own lock there (nan where the lips are still)."""

    start: float
    end: float
    at: float
    swept: bool
    lock: float


def spans(times, frequency, tension):
    """Notes of a track: `times` s, `frequency` Hz (nan: silent), `tension` Hz, all (n,)."""
    found = []
    if len(times) < 2:
        return found
    for piece in _pieces(frequency):
        if len(piece) < 2 or times[piece[-1]] - times[piece[0]] < SHORTEST:
            continue
        found.append(_span(times, frequency, tension, piece))
    return found


def _pieces(frequency):
    """Frames of each stretch without a jump; where lips move so fast that nothing else is left,
    jumps are only looked for from one frame to the next."""
    piece = steady_pieces(frequency)
    slow = [np.flatnonzero(piece == number) for number in np.unique(piece[piece >= 0])]
    if sum(map(len, slow)) > 0.5 * np.isfinite(frequency).sum():
        return slow
    with np.errstate(invalid="ignore"):
        move = np.abs(np.diff(1200 * np.log2(frequency)))
    breaks = np.flatnonzero(~(move <= JUMP)) + 1
    pieces = np.split(np.arange(len(frequency)), breaks)
    return [p[np.isfinite(frequency[p])] for p in pieces]


def _span(times, frequency, tension, piece):
    setting = 1200 * np.log2(tension[piece])
    start, end = float(times[piece[0]]), float(times[piece[-1]])
    middle = 0.5 * (start + end)
    if np.ptp(setting) < LIPS_STILL:
        # held: tell it late enough for the attack to be over
        at = min(start + max(0.3, 0.5 * (end - start)), end)
        return Span(start, end, float(at), False, np.nan)
    lock = sweep_lock(tension[piece], frequency[piece])
    locked = lock >= SLOT_LOCK
    if locked.sum() >= 4:
        low, high = setting[locked].min(), setting[locked].max()
        at = int(np.argmin(np.abs(setting - 0.5 * (low + high))))
    else:
        at = int(np.argmin(np.abs(times[piece] - middle)))
    return Span(start, end, float(times[piece[at]]), True, float(lock[at]))
