"""From the waves at the open end to the pressure at the listener, and to a level.

Radiated power from the real part of the end's load, spread by the directivity of a piston in
free space whose sphere integral is 4 pi; minimum phase, no propagation delay.  Loudness after
ITU-R BS.1770 (pyloudnorm).
"""

from dataclasses import dataclass, replace

import numpy as np

from lipmodel.files.long_arrays import HELD, PIECE, peak, portions

REFERENCE_PRESSURE = 20e-6  # Pa
FULL_SCALE = 200.0  # Pa at sample value 1.0, `calibrated`
TRUE_PEAK_LIMIT = -1.0  # dBTP
TRUE_PEAK_OVERSAMPLING = 4  # BS.1770-4 Annex 2
AROUND = 64  # samples to each side that oversampling looks at, and more
LOUDNESS_BLOCK = 0.4  # s, of BS.1770: shorter sounds are repeated
FADE = 2e-3  # s
SILENT = 1e-9  # Pa: a peak under that is round-off, not a sound


def true_peak(samples) -> float:
    """Largest value between samples as well, by four times oversampling (BS.1770-4 Annex 2)."""
    from scipy.signal import resample_poly  # slow to load: only where a level is taken

    n, top = len(samples), 0.0
    for part in portions(n):
        taken = slice(max(part.start - AROUND, 0), min(part.stop + AROUND, n))
        fine = np.abs(resample_poly(samples[taken], TRUE_PEAK_OVERSAMPLING, 1))
        inside = slice(
            *(TRUE_PEAK_OVERSAMPLING * (p - taken.start) for p in (part.start, part.stop))
        )
        top = max(top, float(np.max(fine[inside])))
    return top


def decibels(ratio) -> float:
    return float(20 * np.log10(max(ratio, 1e-30)))


def loudness(samples, rate) -> tuple[float, bool]:
    """Loudness in LUFS of one channel or two (ITU-R BS.1770), and whether it was too short and
    had to be repeated to be measured; minus infinity for silence."""
    import pyloudnorm

    if len(samples) > HELD:
        return long_loudness(samples, rate), False
    short = len(samples) < LOUDNESS_BLOCK * rate
    if short and len(samples):
        times = int(np.ceil(2 * LOUDNESS_BLOCK * rate / len(samples)))
        samples = np.concatenate([samples] * times)
    if not np.any(samples):
        return float("-inf"), short
    with np.errstate(divide="ignore"):
        value = pyloudnorm.Meter(rate).integrated_loudness(np.asarray(samples))
    return float(value), short


def long_loudness(samples, rate) -> float:
    """`loudness` of a long sound, a piece at a time: its blocks' by pyloudnorm, gated here as
    BS.1770-4 says, at -70 LUFS and then 10 LU under what is left."""
    import pyloudnorm

    step = 0.1 * rate  # of the blocks, which are LOUDNESS_BLOCK long
    settling = 10  # blocks before a piece's own, while the filters settle
    count = round(len(samples) / step - LOUDNESS_BLOCK / 0.1) + 1
    blocks, each = [], int(PIECE / step)
    meter = pyloudnorm.Meter(rate)
    for first in range(0, count, each):
        last, begin = min(first + each, count), max(first - settling, 0)
        taken = samples[int(begin * step) : int((last + 3) * step)]
        meter.integrated_loudness(np.asarray(taken))
        blocks += meter.blockwise_loudness[first - begin : last - begin]
    loud = np.array(blocks)
    for relative in (False, True):
        power = 10 ** (loud[loud >= -70.0] / 10)
        if not len(power):
            return float("-inf")
        if not relative:
            loud = loud[loud > 10 * np.log10(np.mean(power)) - 10]
    return float(10 * np.log10(np.mean(power)))


def sound_levels(pressure, rate) -> tuple[float, float]:
    """Loudest second in dB SPL, unweighted, and the highest A-weighted fast level in dB(A); of
    two ears the louder one's."""
    if np.ndim(pressure[:1]) == 2:
        both = [sound_levels(one, rate) for one in channels(pressure)]
        return max(both)[0], max(fast for _, fast in both)
    if not peak(pressure):
        return float("-inf"), float("-inf")
    n, second = len(pressure), int(rate)
    loudest = highest = 0.0
    # a second before each piece: for the mean over a second, and for filters to settle
    for part in portions(n):
        taken = pressure[max(part.start - second, 0) : part.stop]
        one, fast = _levels(taken, rate, min(n, second))
        loudest, highest = max(loudest, one), max(highest, fast)
    reference = REFERENCE_PRESSURE**2
    return (
        float(10 * np.log10(loudest / reference)),
        float(10 * np.log10(max(highest, 1e-30) / reference)),
    )


def _levels(pressure, rate, window):
    energy = np.cumsum(np.concatenate([[0.0], pressure**2]))
    loudest = np.max(energy[window:] - energy[:-window], initial=0.0) / window
    spectrum = np.fft.rfft(pressure) * _a_weighting(np.fft.rfftfreq(len(pressure), 1 / rate))
    weighted = np.fft.irfft(spectrum, len(pressure)) ** 2
    return float(loudest), float(_exponential_mean(weighted, 0.125 * rate).max())


def _a_weighting(f):
    """Gain of the A curve, IEC 61672-1:2013 formula (E.6), 1 at 1 kHz."""
    f2 = np.square(f)
    gain = 12194.217**2 * f2**2
    gain /= (f2 + 20.598997**2) * (f2 + 12194.217**2)
    gain /= np.sqrt((f2 + 107.65265**2) * (f2 + 737.86223**2))
    return gain * 10 ** (2.0 / 20)


def _exponential_mean(values, samples):
    from scipy.signal import lfilter

    share = 1 - np.exp(-1 / samples)
    return lfilter([share], [1, share - 1], values)


@dataclass(frozen=True)
class Loudness:
    """lufs: BS.1770; true_peak: Pa; spl: dB of the loudest second; laf_max: dB(A), fast."""

    lufs: float
    true_peak: float
    spl: float
    laf_max: float


def loudness_of(pressure, rate) -> Loudness:
    """How loud a pressure is.

    pressure: Pa, shape (n,); rate: Hz.  LUFS are those of a file in which 1.0 is 1 Pa.  Minus
    infinity for silence.  ITU-R BS.1770-4, IEC 61672 (A, fast).

    >>> tone = np.sin(2 * np.pi * 1000 * np.arange(48000) / 48000)
    >>> round(loudness(tone, 48000).spl, 1)
    91.0
    """
    pressure = np.asarray(pressure, float)
    return Loudness(loudness(pressure, rate)[0], true_peak(pressure), *sound_levels(pressure, rate))


@dataclass(frozen=True)
class Leveled:
    """Samples for the file, between -1 and 1 (an array, or `Faded`), and how they came about."""

    samples: object
    gain_db: float
    lufs: float
    true_peak_dbtp: float
    repeated: bool
    limited: bool  #: the true-peak limit kept the sound below its loudness target


@dataclass(frozen=True)
class Channel:
    """One channel of a long sound of two, sliced like a trace."""

    sound: object
    number: int

    def __len__(self):
        return len(self.sound)

    def __getitem__(self, part):
        return self.sound[part][:, self.number]


def channels(sound) -> list:
    """Every channel of a sound of shape (n, channels), or that is sliced so."""
    return [Channel(sound, number) for number in range(sound[:1].shape[1])]


@dataclass(frozen=True)
class Faded:
    """A long sound with fades at both ends and a gain, worked out where it is sliced."""

    trace: object
    ramp: np.ndarray
    gain: float = 1.0

    def __len__(self):
        return len(self.trace)

    def __mul__(self, gain):
        return replace(self, gain=self.gain * gain)

    def __getitem__(self, part):
        first, last, _ = part.indices(len(self))
        values = self.trace[first:last] * self.gain
        at = np.arange(first, last)
        edge = np.minimum(at, len(self) - 1 - at)
        inside = edge < len(self.ramp)
        values[inside] = (values[inside].T * self.ramp[edge[inside]]).T
        return values


def silenced(pressure):
    """Nothing, as long as `pressure`."""
    if isinstance(pressure, np.ndarray):
        return np.zeros_like(pressure)
    return Faded(pressure, np.zeros(0), 0.0)


def faded(pressure, rate):
    """The sound with 2 ms raised-cosine fades at both ends."""
    if len(pressure) > HELD:
        count = int(FADE * rate)
        return Faded(pressure, 0.5 - 0.5 * np.cos(np.pi * np.arange(count) / count))
    samples = np.array(pressure, float)
    count = min(int(FADE * rate), len(samples) // 2)
    ramp = 0.5 - 0.5 * np.cos(np.pi * np.arange(count) / max(count, 1))
    ramp = ramp.reshape(-1, *[1] * (samples.ndim - 1))
    samples[:count] *= ramp
    samples[len(samples) - count :] *= ramp[::-1]
    return samples


def matched(pressure, rate, target) -> Leveled:
    """Scaled to `target` LUFS, true peak at most -1 dBTP; silence stays silence."""
    samples = faded(pressure, rate)
    # the absolute gate of BS.1770 is meant for a file, not for Pa: measured at full scale
    top = peak(samples)
    before, repeated = loudness(samples * (1 / top if top > SILENT else 1.0), rate)
    if not top > SILENT or not np.isfinite(before):
        return Leveled(samples * 0.0, 0.0, float("-inf"), float("-inf"), repeated, False)
    before += decibels(top)
    gain = 10 ** ((target - before) / 20)
    limit = 10 ** (TRUE_PEAK_LIMIT / 20) / true_peak(samples)
    limited = gain > limit
    gain = min(gain, limit)
    samples = samples * gain
    after = before + decibels(gain)
    return Leveled(
        samples, decibels(gain), after, decibels(true_peak(samples)), repeated, bool(limited)
    )


def calibrated(pressure, rate) -> Leveled:
    """Sample 1.0 = 200 Pa; raises ValueError rather than clip."""
    samples = faded(pressure, rate) * (1 / FULL_SCALE)
    top = true_peak(samples)
    if top > 1.0:
        raise ValueError(
            f"the sound reaches {top * FULL_SCALE:.0f} Pa, more than the {FULL_SCALE:.0f} Pa "
            'of a calibrated file: use level = "matched" or a larger distance_m'
        )
    lufs, repeated = loudness(samples, rate)
    return Leveled(samples, decibels(1 / FULL_SCALE), lufs, decibels(top), repeated, False)
