"""From the waves at the open end to the pressure at the listener, and to a level.

Radiated power from the real part of the end's load, spread by the directivity of a piston in
free space whose sphere integral is 4 pi; minimum phase, no propagation delay.  Loudness after
ITU-R BS.1770 (pyloudnorm).
"""

from dataclasses import dataclass

import numpy as np

from lipmodel.acoustics.radiation import end_load

FILTER_SIZE = 4096  # samples of the radiation filter
REFERENCE_PRESSURE = 20e-6  # Pa
FULL_SCALE = 200.0  # Pa at sample value 1.0, `calibrated`
TRUE_PEAK_LIMIT = -1.0  # dBTP
TRUE_PEAK_OVERSAMPLING = 4  # BS.1770-4 Annex 2
LOUDNESS_BLOCK = 0.4  # s, of BS.1770: shorter sounds are repeated
FADE = 2e-3  # s
LIMIT_ANGLES = 181
SILENT = 1e-9  # Pa: a peak under that is round-off, not a sound


def directivity(ka, angle):
    """Intensity at `angle` (rad) from the axis over its mean over the sphere, shape of `ka`.

    Piston of radius a, (2 J1(x)/x)^2 with x = ka sin(angle) (textbook: -3 dB at x = 1.6163,
    first null at 3.8317), both half spaces alike below the angle of 90 degrees and the level of
    90 degrees kept behind the bell; normalised so that the integral over the sphere is 4 pi.
    """
    ka = np.atleast_1d(np.asarray(ka, float))
    angles = np.linspace(0, np.pi, LIMIT_ANGLES)
    pattern = _piston(ka[:, None] * np.sin(np.minimum(angles, np.pi / 2)))
    mean = np.trapezoid(pattern * np.sin(angles), angles, axis=1) / 2
    return _piston(ka * np.sin(min(angle, np.pi / 2))) / mean


def _piston(x):
    from scipy.special import j1  # slow to load: kept filters do without

    x = np.asarray(x, float)
    small = np.abs(x) < 1e-6
    safe = np.where(small, 1.0, x)
    return np.where(small, 1.0, (2 * j1(safe) / safe) ** 2)


def radiation_filter(bore, air, rate, distance, angle):
    """Impulse response from volume flow (m3/s) through the open end to pressure (Pa) at
    `distance` m and `angle` rad, shape (FILTER_SIZE,); minimum phase.

    mean p^2 = rho c Re(Z_r) mean U^2 Q(angle) / (4 pi r^2).
    """
    size = 4 * FILTER_SIZE
    frequency = np.fft.rfftfreq(size, 1 / rate)
    omega = 2 * np.pi * np.maximum(frequency, frequency[1] / 2)
    if bore.end in ("closed", "node"):
        return np.zeros(FILTER_SIZE)
    radius = bore.radius[-1]
    load = end_load(radius, bore.end_angle, omega, air, bore.end).real
    q = directivity(omega * radius / air.sound_speed, angle)
    power = air.density * air.sound_speed * np.maximum(load, 0) * q
    gain = np.sqrt(power / (4 * np.pi)) / distance
    # the low end grows like frequency: take out one difference, whose phase is known, so that
    # the rest is smooth and its minimum phase short
    difference = np.abs(1 - np.exp(-1j * omega / rate))
    smooth = np.maximum(gain / difference, 1e-6 * np.max(gain / difference))
    response = _minimum_phase(smooth)[:FILTER_SIZE]
    return np.diff(response, prepend=0.0)


def _minimum_phase(gain):
    """Impulse response of minimum phase for a gain on a half-sided FFT grid (cepstrum)."""
    size = 2 * (len(gain) - 1)
    cepstrum = np.fft.irfft(np.log(gain), size)
    cepstrum[1 : size // 2] *= 2
    cepstrum[size // 2 + 1 :] = 0
    return np.fft.irfft(np.exp(np.fft.rfft(cepstrum)), size)


def radiated(out_wave, back_wave, admittance, response):
    """Pressure at the listener in Pa, shape like the waves (Pa) in the last cell."""
    flow = (out_wave - back_wave) * admittance
    if not np.any(response):
        return np.zeros_like(flow)
    size = 1 << int(np.ceil(np.log2(len(flow) + len(response) - 1)))
    spectrum = np.fft.rfft(flow, size) * np.fft.rfft(response, size)
    return np.fft.irfft(spectrum, size)[: len(flow)]


def true_peak(samples) -> float:
    """Largest value between samples as well, by four times oversampling (BS.1770-4 Annex 2)."""
    if not len(samples):
        return 0.0
    from scipy.signal import resample_poly  # slow to load: only where a level is taken

    return float(np.max(np.abs(resample_poly(samples, TRUE_PEAK_OVERSAMPLING, 1))))


def decibels(ratio) -> float:
    return float(20 * np.log10(max(ratio, 1e-30)))


def loudness(samples, rate) -> tuple[float, bool]:
    """Loudness in LUFS of one channel (ITU-R BS.1770), and whether it was too short and had to
    be repeated to be measured; minus infinity for silence."""
    import pyloudnorm

    short = len(samples) < LOUDNESS_BLOCK * rate
    if short and len(samples):
        samples = np.tile(samples, int(np.ceil(2 * LOUDNESS_BLOCK * rate / len(samples))))
    if not np.any(samples):
        return float("-inf"), short
    with np.errstate(divide="ignore"):
        value = pyloudnorm.Meter(rate).integrated_loudness(np.asarray(samples))
    return float(value), short


def sound_levels(pressure, rate) -> tuple[float, float]:
    """Loudest second in dB SPL, unweighted, and the highest A-weighted fast level in dB(A)."""
    if not np.any(pressure):
        return float("-inf"), float("-inf")
    window = min(len(pressure), int(rate))
    energy = np.cumsum(np.concatenate([[0.0], pressure**2]))
    loudest = np.max(energy[window:] - energy[:-window]) / window
    spectrum = np.fft.rfft(pressure) * _a_weighting(np.fft.rfftfreq(len(pressure), 1 / rate))
    weighted = np.fft.irfft(spectrum, len(pressure)) ** 2
    fast = _exponential_mean(weighted, 0.125 * rate)
    reference = REFERENCE_PRESSURE**2
    return (
        float(10 * np.log10(loudest / reference)),
        float(10 * np.log10(max(fast.max(), 1e-30) / reference)),
    )


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
class Leveled:
    """Samples for the file, between -1 and 1, and how they came about."""

    samples: np.ndarray
    gain_db: float
    lufs: float
    true_peak_dbtp: float
    repeated: bool
    limited: bool  #: the true-peak limit kept the sound below its loudness target


def faded(pressure, rate):
    """The sound with 2 ms raised-cosine fades at both ends."""
    samples = np.array(pressure, float)
    count = min(int(FADE * rate), len(samples) // 2)
    ramp = 0.5 - 0.5 * np.cos(np.pi * np.arange(count) / max(count, 1))
    samples[:count] *= ramp
    samples[len(samples) - count :] *= ramp[::-1]
    return samples


def matched(pressure, rate, target) -> Leveled:
    """Scaled to `target` LUFS, true peak at most -1 dBTP; silence stays silence."""
    samples = faded(pressure, rate)
    # the absolute gate of BS.1770 is meant for a file, not for Pa: measured at full scale
    peak = float(np.max(np.abs(samples), initial=0.0))
    before, repeated = loudness(samples / peak if peak > SILENT else samples, rate)
    if not peak > SILENT or not np.isfinite(before):
        return Leveled(np.zeros_like(samples), 0.0, float("-inf"), float("-inf"), repeated, False)
    before += decibels(peak)
    gain = 10 ** ((target - before) / 20)
    limit = 10 ** (TRUE_PEAK_LIMIT / 20) / true_peak(samples)
    limited = gain > limit
    gain = min(gain, limit)
    samples *= gain
    after = before + decibels(gain)
    return Leveled(
        samples, decibels(gain), after, decibels(true_peak(samples)), repeated, bool(limited)
    )


def calibrated(pressure, rate) -> Leveled:
    """Sample 1.0 = 200 Pa; raises ValueError rather than clip."""
    samples = faded(pressure, rate) / FULL_SCALE
    peak = true_peak(samples)
    if peak > 1.0:
        raise ValueError(
            f"the sound reaches {peak * FULL_SCALE:.0f} Pa, more than the {FULL_SCALE:.0f} Pa "
            'of a calibrated file: use level = "matched" or a larger distance_m'
        )
    lufs, repeated = loudness(samples, rate)
    return Leveled(samples, decibels(1 / FULL_SCALE), lufs, decibels(peak), repeated, False)
