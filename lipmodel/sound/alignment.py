"""Several sounds made comparable: one start, one length, one loudness.

Where a sound starts: its level in windows of 20 ms first comes within 12 dB of the middle (median)
of the levels it has over the first 0.3 s in which it is within 50 dB of its loudest window.
"""

from dataclasses import dataclass
from math import gcd

import numpy as np
from scipy.signal import fftconvolve

from lipmodel.sound import loudness

WINDOW, HOP = 0.020, 0.001  # s
SOUNDING = 10 ** (-50 / 20)  # of the loudest window
BEGINNING = 0.3  # s
STARTED = 10 ** (-12 / 20)  # of the middle level
RELEASE = 0.03  # s, in which a sound that is cut short ends
SAME_SAMPLE = 1e-3  # s: lengths closer than this are one length


@dataclass(frozen=True)
class Evened:
    """One of the sounds; samples between -1 and 1, gain from Pa."""

    samples: np.ndarray
    onset: float  #: s from the start of what was given
    first: int  #: sample of what was given that comes first now
    gain_db: float
    lufs: float
    true_peak_dbtp: float
    limited: bool  #: its true peak keeps the whole set below the loudness asked for


def envelope(samples, rate):
    """Level (rms in Hann windows of 20 ms) every millisecond, shape (n,), and the windows' middles
    in s; silence before and after."""
    hop, window = max(1, round(HOP * rate)), np.hanning(2 * round(WINDOW * rate / 2) + 1)
    power = fftconvolve(np.square(samples, dtype=float), window / window.sum(), "same")
    return np.sqrt(np.maximum(power[::hop], 0.0)), np.arange(0, len(samples), hop) / rate


def onset(samples, rate) -> float:
    """When a sound starts, in s; 0 for silence."""
    level, times = envelope(samples, rate)
    sounding = level > SOUNDING * level.max(initial=0.0)
    if not np.any(sounding):
        return 0.0
    first = int(np.argmax(sounding))
    middle = np.median(level[first:][times[first:] < times[first] + BEGINNING])
    return float(times[np.argmax(level >= STARTED * middle)])


def align(pressures, rate, target) -> list[Evened]:
    """The sounds (Pa at `rate` Hz, each of its own length) from a common start, over the length
    that all of them have, at `target` LUFS (ITU-R BS.1770), or as near as the true peak of the
    one that needs most headroom lets all of them come.

    Raises ValueError with the number of a sound that is silent.
    """
    starts = [onset(p, rate) for p in pressures]
    firsts = [round((start - min(starts)) * rate) for start in starts]
    length = min(len(p) - first for p, first in zip(pressures, firsts, strict=True))
    pieces = [_piece(p, f, length, rate) for p, f in zip(pressures, firsts, strict=True)]
    leveled = [loudness.matched(piece, rate, target) for piece in pieces]
    for number, found in enumerate(leveled):
        if not np.isfinite(found.lufs):
            raise ValueError(number)
    level = min(found.lufs for found in leveled)
    made = []
    for start, first, found in zip(starts, firsts, leveled, strict=True):
        more = level - found.lufs
        made.append(
            Evened(
                found.samples * 10 ** (more / 20), start, first, found.gain_db + more, level,
                found.true_peak_dbtp + more, found.limited and found.lufs == level,
            )
        )  # fmt: skip
    return made


def _piece(pressure, first, length, rate):
    piece = np.array(pressure[first : first + length], float)
    if len(pressure) - first - length > SAME_SAMPLE * rate:
        count = min(round(RELEASE * rate), length)
        piece[length - count :] *= 0.5 + 0.5 * np.cos(np.pi * np.arange(count) / count)
    return piece


def resampled(samples, rate, to):
    """One channel at another whole rate in Hz."""
    rate, to = round(rate), round(to)
    if rate == to:
        return samples
    from scipy.signal import resample_poly  # slow to load

    common = gcd(rate, to)
    return resample_poly(samples, to // common, rate // common)
