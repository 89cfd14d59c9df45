"""Where a tube answers: peaks of pressure over the flow put in."""

import numpy as np

FINEST = 0.05  # Hz between points of a spectrum
AROUND = 0.03  # of a frequency, to either side, in which its peak is looked for
SMOOTH = 0.5  # Hz over which noise is averaged


def answer(flow, pressure, rate):
    """Frequencies in Hz and |pressure/flow| in Pa s/m3 of a run that begins and ends at rest.

    Both are averaged over `SMOOTH` Hz before they are divided, so that a noise without power at
    one frequency makes no peak there.
    """
    size = 1 << int(np.ceil(np.log2(max(len(flow), rate / FINEST))))
    f, p = (np.fft.rfft(v, size) for v in (flow, pressure))
    bins = max(1, round(SMOOTH * size / rate))
    ones = np.ones(bins)
    cross = np.convolve(p * f.conj(), ones, "same")
    power = np.convolve(np.abs(f) ** 2, ones, "same")
    return np.fft.rfftfreq(size, 1 / rate), np.abs(cross) / np.maximum(power, 1e-300)


def spectrum(signal, rate):
    """Frequencies in Hz and |spectrum| of a sound that dies away, in its unit times s."""
    size = 1 << int(np.ceil(np.log2(max(len(signal), rate / FINEST))))
    return np.fft.rfftfreq(size, 1 / rate), np.abs(np.fft.rfft(signal, size)) / rate


def peak_near(frequency, size, near):
    """The highest point within 3 % of `near` Hz, by a parabola through the logarithm; None where
    the curve only rises or falls."""
    inside = np.flatnonzero(np.abs(frequency - near) <= AROUND * near)
    if len(inside) < 5:
        return None
    at = inside[np.argmax(size[inside])]
    if at in (inside[0], inside[-1]):
        return None
    left, middle, right = np.log(np.maximum(size[at - 1 : at + 2], 1e-300))
    bend = left - 2 * middle + right
    shift = 0.0 if bend == 0 else 0.5 * (left - right) / bend
    return float(frequency[at] + shift * (frequency[1] - frequency[0]))
