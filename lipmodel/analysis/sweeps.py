"""Slots: lip setting swept slowly up and down, and where each note holds, bends and jumps."""

from dataclasses import dataclass

import numpy as np

from lipmodel.analysis.lock import SLOT_LOCK, SWEEP_RATE, steady_pieces, sweep_lock
from lipmodel.analysis.pitch import FRAME, lowest_for, pitch
from lipmodel.analysis.spectrum import centroid, harmonics
from lipmodel.units import cents
from lipmodel.waveguide.state import Block, Horn, start
from lipmodel.waveguide.time_loop import advance

HELD_FIRST = 0.4  # s at the first setting, before the sweep
FADE_IN = 0.02  # s
NARROWEST = 60.0  # cents of setting: a shorter run of lock is no slot
SETTLES = 12  # frames after a jump in which another note is there
SPECTRUM_STEP = 5  # frames between two spectra


@dataclass(frozen=True)
class Sweep:
    """One way of a sweep, in the order played, arrays of shape (n,): lip setting (Hz), mouth
    pressure (Pa), playing frequency (Hz, nan when silent), lock (nan at jumps), rms of the
    mouthpiece pressure (Pa) and spectral centroid (Hz)."""

    tension: np.ndarray
    pressure: np.ndarray
    frequency: np.ndarray
    lock: np.ndarray
    rms: np.ndarray
    centroid: np.ndarray


def sweep(horn: Horn, low, high, breath, up: bool, lines=None, spectra=True) -> Sweep:
    """Sweep the setting between `low` and `high` Hz at 170 cents/s from rest.

    `breath` gives the mouth pressure in Pa for an array of settings in Hz.  Without `spectra`
    the centroids, half of the work, are nan.
    """
    rate = horn.rate
    span = abs(cents(high, low))
    samples = int(span / SWEEP_RATE * rate)
    path = np.linspace(0.0, 1.0, samples) if up else np.linspace(1.0, 0.0, samples)
    begin = np.full(int(HELD_FIRST * rate), path[0])
    tension = low * (high / low) ** np.concatenate([begin, path])
    mouth = np.asarray(breath(tension), float)
    mouth = mouth * np.minimum(np.arange(len(mouth)) / (FADE_IN * rate), 1.0)
    played = advance(horn, start(horn), Block(mouth, tension, lines_from=lines))
    times, track = pitch(played.mouthpiece_pressure, rate, lowest=lowest_for(tension))
    keep = times >= HELD_FIRST
    times, track = times[keep], track[keep]
    at = (times * rate).astype(int)
    setting, pressure = tension[at], played.mouthpiece_pressure
    middle = _centroids(pressure, at, track, rate) if spectra else np.full(len(at), np.nan)
    return Sweep(
        setting,
        mouth[at],
        track,
        sweep_lock(setting, track),
        _rms(pressure, at, rate),
        middle,
    )


def _rms(signal, at, rate):
    half = int(FRAME * rate / 2)
    total = np.concatenate([[0.0], np.cumsum(signal)])
    square = np.concatenate([[0.0], np.cumsum(signal**2)])
    low, high = np.maximum(at - half, 0), np.minimum(at + half, len(signal))
    count = high - low
    mean = (total[high] - total[low]) / count
    return np.sqrt(np.maximum((square[high] - square[low]) / count - mean**2, 0.0))


def _centroids(signal, at, track, rate):
    half = int(FRAME * rate / 2)
    known, values = [], []
    for i in range(0, len(at), SPECTRUM_STEP):
        if np.isfinite(track[i]):
            part = signal[max(at[i] - half, 0) : at[i] + half]
            known.append(i)
            values.append(centroid(harmonics(part, rate, track[i], 20), track[i]))
    if not known:
        return np.full(len(at), np.nan)
    filled = np.interp(np.arange(len(at)), known, values)
    return np.where(np.isfinite(track), filled, np.nan)


def branches(found: Sweep) -> list[np.ndarray]:
    """Frames of every branch of a sweep: stretches without a jump or a silence."""
    piece = steady_pieces(found.frequency)
    frames = [np.flatnonzero(piece == number) for number in np.unique(piece[piece >= 0])]
    return [f for f in frames if len(f) >= 4]


def slot_rows(found: Sweep, resonances) -> list[dict]:
    """One row a slot, in the order played (keys of `slots --json`).

    `resonances` are (n, frequency in Hz).  A slot is a run of lock >= 0.5 on a branch, its
    centre the middle of its setting in cents; of two on one partial of a branch the wider one.
    """
    rows = []
    for branch in branches(found):
        best = {}
        for run in _runs(found, branch):
            row = _row(found, branch, run, resonances)
            known = best.get(row["partial"])
            if known is None or row["lip_width_cents"] > known["lip_width_cents"]:
                best[row["partial"]] = row
        rows += best.values()
    return rows


def _runs(found: Sweep, branch):
    locked = found.lock[branch] >= SLOT_LOCK
    edges = np.flatnonzero(np.diff(np.concatenate([[False], locked, [False]]).astype(int)))
    for first, after in zip(edges[::2], edges[1::2], strict=True):
        run = branch[first:after]
        if abs(cents(found.tension[run[-1]], found.tension[run[0]])) >= NARROWEST:
            yield run


def _row(found: Sweep, branch, run, resonances) -> dict:
    setting, heard = found.tension[run], found.frequency[run]
    low, high = float(setting.min()), float(setting.max())
    centre = float(np.sqrt(low * high))
    order = np.argsort(setting)
    playing = float(np.interp(np.log(centre), np.log(setting[order]), heard[order]))
    at = run[np.argmin(np.abs(np.log(setting / centre)))]
    n, resonance = min(resonances, key=lambda r: (abs(cents(playing, r[1])), -r[0]))
    bends = 1200 * np.log2(found.frequency[branch] / resonance)
    last = branch[-1]
    after = found.frequency[last + 1 : last + 1 + SETTLES]
    # between two notes a frame or two may have no pitch; where breath gives out there is none
    jumped = len(after) == SETTLES and np.isfinite(after).sum() >= 0.6 * SETTLES
    return {
        "partial": n,
        "resonance_hz": resonance,
        "tension_from_hz": low,
        "tension_to_hz": high,
        "lip_width_cents": cents(high, low),
        "centre_tension_hz": centre,
        "playing_hz": playing,
        "cents_from_resonance": cents(playing, resonance),
        "lock": float(found.lock[at]),
        "bend_below_cents": float(max(0.0, -bends.min())),
        "bend_above_cents": float(max(0.0, bends.max())),
        "jump_tension_hz": float(found.tension[last]) if jumped else None,
        "pressure_kpa": float(found.pressure[at]) / 1e3,
    }
