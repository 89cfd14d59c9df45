"""How far the air column holds the pitch against the lips.

lock = 1 - (cents the pitch moves)/(cents the lip setting moves), measured: two continuations
from one saved state with the setting 10 cents up and down.
"""

from dataclasses import dataclass

import numpy as np

from lipmodel.analysis.pitch import HOP, frame_of, lowest_for, pitch, steady_pitch
from lipmodel.units import cents
from lipmodel.waveguide.state import Block, Horn, State
from lipmodel.waveguide.time_loop import advance

NUDGE = 10.0  # cents of lip setting to either side
SETTLE, MEASURE = 0.3, 0.2  # s
JUMP = 60.0  # cents: more than this between two frames is another partial
ACROSS = 3  # frames to either side over which a jump is looked for
SWEEP_RATE = 170.0  # cents of lip setting a second
WINDOW = 60.0  # cents of lip setting over which a sweep's slope is taken
FURTHEST = 1000.0  # cents of setting to either side that a slot is looked for
SLOT_LOCK = 0.5
BENT = 30.0  # cents from the resting pitch
UNSTEADY = 25.0  # cents rms of the pitch within a held note
SWEEP_CHUNK = 0.3  # s
ROWS = 500  # frames at a time


def continuation(horn: Horn, state: State, mouth, tension, lines, length):
    """Mouthpiece pressure (Pa) of a continuation; `tension` in Hz, a number or (n,).

    `state` is advanced in place.
    """
    n = int(length * horn.rate) if np.isscalar(tension) else len(tension)
    setting = np.full(n, float(tension)) if np.isscalar(tension) else tension
    block = Block(np.full(n, float(mouth)), setting, lines_from=lines)
    return advance(horn, state, block).mouthpiece_pressure


def lock(horn: Horn, state: State, mouth, tension, lines, frequency):
    """Lock at one moment, or None where a nudge jumps more than 60 cents or falls silent."""
    found = []
    for sign in (-1, 1):
        nudged = tension * 2 ** (sign * NUDGE / 1200)
        pressure = continuation(horn, state.copy(), mouth, nudged, lines, SETTLE + MEASURE)
        tail = pressure[-int(MEASURE * horn.rate) :]
        heard = steady_pitch(tail, horn.rate, lowest=lowest_for(frequency))
        if np.isnan(heard) or abs(cents(heard, frequency)) > JUMP:
            return None
        found.append(heard)
    return 1 - cents(found[1], found[0]) / (2 * NUDGE)


def shown(lock: float) -> str:
    """A lock as a table has room for it: what lies outside of 0 to 1 is no degree of holding."""
    return "less than 0" if lock < 0 else "over 1" if lock > 1 else f"{lock:.2f}"


def lock_words(lock: float) -> str:
    """How firmly a note is held; what lies outside of 0 to 1 is told by what it means."""
    meaning = ": the pitch moves further than the lips" if lock < 0 else ""
    meaning = ": the pitch moves against the lips" if lock > 1 else meaning
    return f"lock {shown(lock)}{meaning}"


@dataclass(frozen=True)
class Slot:
    """Range of lip setting (Hz) on one branch where lock >= 0.5, at one pressure; the centre
    (middle in cents) plays the resting pitch (Hz)."""

    tension_from: float
    tension_to: float
    centre: float
    resting: float

    def holds(self, tension) -> bool:
        return self.tension_from <= tension <= self.tension_to


@dataclass(frozen=True)
class Branch:
    """A sweep away from one moment: setting (Hz), pitch (Hz) and lock at each step, (n,)."""

    tension: np.ndarray
    frequency: np.ndarray
    lock: np.ndarray


def steady_pieces(frequency):
    """Number of the piece that each frame of a slow sweep belongs to, (n,); -1 where it is
    silent or amid a jump, which may be smeared over the frames that straddle it."""
    heard = 1200 * np.log2(np.asarray(frequency, float))
    padded = np.concatenate([[np.nan] * ACROSS, heard, [np.nan] * ACROSS])
    with np.errstate(invalid="ignore"):
        across = np.abs(padded[2 * ACROSS :] - padded[: -2 * ACROSS]) > JUMP
        step = ~(np.abs(np.diff(heard)) <= JUMP)
    good = np.isfinite(heard) & ~across
    number = np.concatenate([[0], np.cumsum(step | (good[1:] != good[:-1]))])
    return np.where(good, number, -1)


def sweep_lock(tension, frequency):
    """Lock along a slow sweep by regression over 60 cents of setting, shape like `tension`.

    nan where the pitch jumps inside the window or fewer than four frames fall into it.
    """
    setting, heard = 1200 * np.log2(tension), 1200 * np.log2(frequency)
    result = np.full(len(setting), np.nan)
    if len(setting) < 4:
        return result
    piece = steady_pieces(frequency)
    for number in np.unique(piece[piece >= 0]):
        at = np.flatnonzero(piece == number)
        x, y = setting[at] - setting[at].mean(), heard[at] - heard[at].mean()
        known = np.stack([np.ones(len(at)), x, y, x * x, x * y], axis=1)
        for rows in np.array_split(np.arange(len(at)), 1 + len(at) // ROWS):
            near = np.abs(x[rows, None] - x) <= WINDOW / 2
            n, sx, sy, sxx, sxy = (near.astype(float) @ known).T
            enough = n >= 4
            slope = (sxy - sx * sy / n)[enough] / (sxx - sx * sx / n)[enough]
            result[at[rows[enough]]] = 1 - slope
    return result


def branch(
    horn: Horn, state: State, mouth, tension, lines, frequency, within=(0.0, np.inf), thinned=1
) -> Branch:
    """Follow a note with the lips swept down and up from `tension` until it jumps or dies, or its
    pitch leaves the range `within` (Hz).  Every `thinned` samples are averaged before their pitch
    is taken: a hundred a period are enough."""
    parts = [_one_way(sign, horn, state.copy(), mouth, tension, lines, frequency, within, thinned)
             for sign in (-1, 1)]  # fmt: skip
    setting = np.concatenate([parts[0][0][::-1], parts[1][0]])
    heard = np.concatenate([parts[0][1][::-1], parts[1][1]])
    return Branch(setting, heard, sweep_lock(setting, heard))


def _one_way(sign, horn, state, mouth, tension, lines, last, within, thinned):
    """(setting, pitch), Hz, of every frame of a sweep one way, in one go but for where it ends."""
    n = round(SWEEP_CHUNK * horn.rate / thinned) * thinned
    speed, rate = sign * SWEEP_RATE / horn.rate, horn.rate / thinned
    settings, heard, played, done = [], [], np.zeros(0), 0
    while SWEEP_RATE * done / horn.rate < FURTHEST:
        setting = tension * 2 ** (speed * np.arange(done + 1, done + n + 1) / 1200)
        pressure = continuation(horn, state, mouth, setting, lines, SWEEP_CHUNK)
        done += n
        lowest = lowest_for(setting)
        # from the last frame on, so that no frame is missing between two chunks
        before = frame_of(rate, lowest) - round(HOP * rate)
        played = np.concatenate([played[-before:], pressure.reshape(-1, thinned).mean(axis=1)])
        times, track = pitch(played, rate, lowest=lowest)
        end = done - (len(played) - times * rate) * thinned
        previous = np.concatenate([[last], track[:-1]])
        with np.errstate(invalid="ignore"):
            gone = ~(np.abs(1200 * np.log2(track / previous)) <= JUMP)
            gone |= (track < within[0]) | (track > within[1])
        stop = int(np.argmax(gone)) if gone.any() else len(track)
        settings.append(tension * 2 ** (speed * end[:stop] / 1200))
        heard.append(track[:stop])
        if gone.any():
            break
        last = float(track[-1])
    return np.concatenate(settings), np.concatenate(heard)


def slot_of(found: Branch, tension) -> Slot | None:
    """The slot on a branch that holds `tension`, or the nearest one on it; None without one."""
    locked = found.lock >= SLOT_LOCK
    if locked.sum() < 4:
        return None
    edges = np.flatnonzero(np.diff(np.concatenate([[False], locked, [False]]).astype(int)))
    runs = [(a, b - 1) for a, b in zip(edges[::2], edges[1::2], strict=True) if b - a >= 4]
    if not runs:
        return None

    def away(run):
        low, high = found.tension[run[0]], found.tension[run[1]]
        if low <= tension <= high:
            return 0.0
        return min(abs(cents(low, tension)), abs(cents(high, tension)))

    a, b = min(runs, key=away)
    low, high = float(found.tension[a]), float(found.tension[b])
    centre = float(np.sqrt(low * high))
    order = np.argsort(found.tension)
    resting = np.interp(np.log(centre), np.log(found.tension[order]), found.frequency[order])
    return Slot(low, high, centre, float(resting))
