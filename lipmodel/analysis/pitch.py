"""Playing frequency against time, and to a tenth of a cent where the sound is steady.

Coarse: normalised square difference of a frame with itself (McLeod and Wyvill, Proc. ICMC 2005),
by FFT.  Fine: the advance of the fundamental's phase between two overlapping windows.
"""

import numpy as np

HOP = 0.01  # s
FRAME = 0.05  # s
ONE_PERIOD = 0.9  # autocorrelation of a sound with that period
PERIODS = 2.25  # of the lowest pitch looked for, at the least, in a frame
LOWEST, HIGHEST = 45.0, 2500.0  # Hz
BELOW = 0.7  # of a lip setting: the pitch may lie as far below
PERIODIC = 0.75  # least value of the normalised square difference at the period
FIRST_PEAK = 0.9  # of the highest peak: the first one reaching it is the period
SILENT = 2.0  # Pa rms in the mouthpiece
CHUNK = 400  # frames at a time
OCTAVE, STEADY = 60.0, 100.0  # cents, of a lone frame that slipped by an octave
MIXED, MIXED_FRAMES = 500.0, 6  # cents below both notes; frames at the most


def lowest_for(frequency) -> float:
    """The lowest pitch in Hz to look for where notes or lip settings reach down to `frequency`."""
    return min(LOWEST, BELOW * float(np.min(frequency)))


def frame_of(rate, lowest=LOWEST) -> int:
    """Samples of a frame in which pitches down to `lowest` Hz are looked for."""
    return round(max(FRAME, PERIODS / lowest) * rate)


def pitch(signal, rate, floor=SILENT, lowest=LOWEST):
    """Times in s and playing frequency in Hz every 10 ms, two arrays of shape (n,).

    `signal` is the mouthpiece pressure in Pa at `rate` Hz.  nan where it is silent (under
    `floor` Pa rms) or not periodic.  Frames are 50 ms, longer for a `lowest` pitch under 45 Hz.

    >>> tone = 100 * np.sin(2 * np.pi * 440 * np.arange(24000) / 48000)
    >>> bool(abs(pitch(tone, 48000)[1][5] - 440) < 0.1)
    True
    """
    hop, frame = round(HOP * rate), frame_of(rate, lowest)
    count = max(0, (len(signal) - frame) // hop + 1)
    if count == 0:
        return np.zeros(0), np.zeros(0)
    limits = floor, min(LOWEST, lowest)
    found = np.concatenate(
        [
            _frames(
                signal[first * hop : last * hop + frame], rate, last - first, hop, frame, limits
            )
            for first, last in ((i, min(i + CHUNK, count)) for i in range(0, count, CHUNK))
        ]
    )
    return (np.arange(count) * hop + frame / 2) / rate, _without_mixtures(_mended(found))


def _mended(track):
    """`track` with a lone frame put back by the octave by which it slipped from both its
    neighbours: alternate periods that differ make such frames."""
    octaves = 1200 * np.log2(track)
    before, here, after = octaves[:-2], octaves[1:-1], octaves[2:]
    slip = here - 0.5 * (before + after)
    lone = (np.abs(before - after) < STEADY) & (np.abs(np.abs(slip) - 1200) < OCTAVE)
    mended = track.copy()
    mended[1:-1][lone] *= 2.0 ** -np.sign(slip[lone])
    return mended


def _without_mixtures(track):
    """`track` without the frames that hold the end of one note and the beginning of the next:
    they repeat after the period that both have in common, far below either."""
    octaves, kept = 1200 * np.log2(track), track.copy()
    falls = np.flatnonzero(np.diff(octaves) < -MIXED)
    for first in falls + 1:
        rises = np.flatnonzero(np.diff(octaves[first - 1 : first + MIXED_FRAMES + 1]) > MIXED)
        if len(rises):
            kept[first : first + rises[0]] = np.nan
    return kept


def _frames(signal, rate, count, hop, frame, limits):
    floor, lowest = limits
    x = np.lib.stride_tricks.sliding_window_view(signal, frame)[: count * hop : hop]
    x = x - x.mean(axis=1, keepdims=True)
    rms = np.sqrt(np.mean(x**2, axis=1))
    size = 1 << int(np.ceil(np.log2(1.5 * frame)))
    lags = np.arange(frame // 2 + 1)
    spectrum = np.abs(np.fft.rfft(x, size)) ** 2
    correlation = np.fft.irfft(spectrum, size)[:, : len(lags)]
    energy = np.concatenate([np.zeros((len(x), 1)), np.cumsum(x**2, axis=1)], axis=1)
    both = energy[:, frame - lags] + (energy[:, -1:] - energy[:, lags])
    similar = 2 * correlation / np.maximum(both, 1e-30)
    low, high = max(2, int(rate / HIGHEST)), min(int(rate / lowest), len(lags) - 2)
    middle = similar[:, low : high + 1]
    peak = (middle > similar[:, low - 1 : high]) & (middle >= similar[:, low + 1 : high + 2])
    heights = np.where(peak, middle, -1.0)
    best = heights.max(axis=1, keepdims=True)
    first = np.argmax(heights >= FIRST_PEAK * best, axis=1) + low
    rows = np.arange(len(x))
    a, b, c = (similar[rows, first + d] for d in (-1, 0, 1))
    bend = a - 2 * b + c
    lag = first + 0.5 * (a - c) / np.where(bend == 0, 1.0, bend)
    good = (best[:, 0] >= PERIODIC) & (rms >= floor)
    return np.where(good, rate / lag, np.nan)


def half_rate(times, track, signal, rate):
    """Whether `signal` repeats only every second period of the pitch `track` (Hz) at `times` (s),
    bool, shape (n,): its normalised autocorrelation over 50 ms is under 0.9 at one period and
    higher by 0.1 at two.  Measured in steady notes: 0.97 to 1 at one period; where lips without a
    resonance double their period 0.15 to 0.7, and 0.95 and more at two.
    """
    one, two = _repeats(times, track, signal, rate, (1.0, 2.0))
    return (one < ONE_PERIOD) & (two > one + 0.1)


def double_rate(times, track, signal, rate):
    """Whether `signal` repeats nearly as well after half a period of the pitch `track` (Hz) at
    `times` (s), bool, shape (n,): its odd harmonics lie 13 dB and more under the even ones, and
    what looks for its pitch as `pitch` does finds the octave above.
    """
    half, one = _repeats(times, track, signal, rate, (0.5, 1.0))
    return (one >= ONE_PERIOD) & (half >= FIRST_PEAK * one)


def _repeats(times, track, signal, rate, periods):
    """Normalised autocorrelation of `signal` over 50 ms from each of `times` (s), so many
    `periods` of `track` (Hz) later, one row each; nan where it is not known."""
    size, found = round(FRAME * rate), np.full((len(periods), len(times)), np.nan)
    for i in np.flatnonzero(np.isfinite(track)):
        first, lags = round(times[i] * rate), np.round(np.array(periods) * rate / track[i])
        part = np.asarray(signal[first : first + size + int(lags[-1])], float)
        if len(part) < size + lags[-1]:
            break
        still = part[:size]
        moved = [part[int(lag) : int(lag) + size] for lag in lags]
        power = [np.sqrt(np.dot(still, still) * np.dot(m, m)) for m in moved]
        if min(power) > 0:
            found[:, i] = [np.dot(still, m) / p for m, p in zip(moved, power, strict=True)]
    return found


def steady_pitch(signal, rate, floor=SILENT, lowest=LOWEST):
    """Frequency in Hz of a steady sound to about 0.05 cent, or nan (also under `lowest` Hz).

    The median of `pitch` is refined by the phase of the fundamental in two windows a quarter of
    the signal apart; at least 0.1 s is needed.
    """
    _, track = pitch(signal, rate, floor, lowest)
    known = track[np.isfinite(track)]
    if len(known) < 0.5 * len(track) or not len(known):
        return float("nan")
    return refine(signal, rate, float(np.median(known)))


def refine(signal, rate, near):
    """Frequency in Hz of the partial tone nearest to `near` Hz, by its phase advance."""
    signal = np.asarray(signal, float)
    window_length = 3 * len(signal) // 4
    window = np.hanning(window_length)
    apart = len(signal) - window_length
    frequency = near
    # close windows first: a large step could slip by a whole turn
    for step in (max(1, int(0.2 * rate / near)), apart):
        step = min(step, apart)
        tone = np.exp(-2j * np.pi * frequency / rate * np.arange(len(signal)))
        turned = signal * tone
        first = np.sum(turned[:window_length] * window)
        second = np.sum(turned[step : step + window_length] * window)
        if first == 0 or second == 0:
            return float("nan")
        frequency += np.angle(second / first) / (2 * np.pi * step) * rate
    return float(frequency)
