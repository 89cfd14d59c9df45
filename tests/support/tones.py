"""Tones whose pitch is known, and a second opinion on it."""

import numpy as np
import parselmouth

from lipmodel.analysis.pitch import pitch

RATE = 48_000
LOUD = 1000.0  # Pa, as in a mouthpiece


def off(frequency, reference):
    """Cents between arrays."""
    return 1200 * np.log2(np.asarray(frequency) / reference)


def tone(phase, amplitudes):
    """Sum of harmonics of a phase in turns; each starts at its own angle."""
    return LOUD * sum(a * np.cos(2 * np.pi * n * phase + n) for n, a in enumerate(amplitudes, 1))


def steady(frequency, amplitudes, length=0.3, rate=RATE):
    return tone(frequency * np.arange(round(length * rate)) / rate, amplitudes)


def assert_alike(signal, rate):
    heard = parselmouth.Sound(signal, rate).to_pitch_ac(
        time_step=0.01, pitch_floor=60.0, pitch_ceiling=1400.0, very_accurate=True
    )
    other = heard.selected_array["frequency"]
    times, track = pitch(signal, rate)
    ours = np.interp(heard.xs(), times, track)
    both = (other > 0) & np.isfinite(ours) & (heard.xs() > 0.1) & (heard.xs() < 0.95)
    steady_now = np.abs(np.gradient(off(np.where(both, ours, 100.0), 100.0))) < 4
    both &= steady_now  # at a jump the two windows see different parts of it
    assert both.sum() > 50
    assert np.max(np.abs(off(ours[both], other[both]))) < 5.0  # cents, the project's promise
