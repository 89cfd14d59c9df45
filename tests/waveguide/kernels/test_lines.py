"""Lines that are read between their samples: weights, moving reads."""

import numpy as np
import pytest
from support.music import RATE

from lipmodel.waveguide.kernels import lines

# what the loop reads


def test_the_weights_are_lagrange_s():
    # h_n = product of (D - k)/(n - k): D 1.3, N 3, worked out by hand
    expected = (-0.0595, 0.7735, 0.3315, -0.0455)
    np.testing.assert_allclose(lines.lagrange(1.3), expected, rtol=0, atol=1e-12)
    for d, whole in ((1.0, (0, 1, 0, 0)), (2.0, (0, 0, 1, 0))):
        np.testing.assert_allclose(lines.lagrange(d), whole, atol=1e-15)


def test_the_weights_never_amplify_where_they_are_used():
    turn = np.exp(-1j * np.linspace(0, np.pi, 2000)[:, None] * np.arange(4))
    inside = [np.abs(turn @ lines.lagrange(d)).max() for d in np.linspace(1, 2, 51)]
    assert max(inside) <= 1 + 1e-12
    assert np.abs(turn @ lines.lagrange(0.6)).max() > 1.1  # and do elsewhere


def through(frequency, delays):
    """A sine of `frequency` Hz and amplitude 1 through a line without losses."""
    size, n = 1024, len(delays)
    buffers, memory, none = np.zeros((1, 2, size)), np.zeros((1, 2, 5)), np.zeros((2, 7))
    x, out = np.sin(2 * np.pi * frequency / RATE * np.arange(n)), np.zeros(n)
    gain = np.sqrt(1 - np.diff(delays, prepend=delays[0]))
    for t in range(n):
        buffers[0, 0, t % size] = x[t]
        out[t], _ = lines.moving_line(
            buffers, 0, 0, t, np.zeros(2), delays[t], gain[t], 0.0,
            none, none, none, False, 0.0, 1.0, np.zeros(5), memory,
        )  # fmt: skip
    return out[2000:]


def floor(signal):
    """Strongest component besides the strongest one, in dB under it."""
    size = np.abs(np.fft.rfft(signal * np.kaiser(len(signal), 20)))
    top = int(np.argmax(size))
    size_elsewhere = np.delete(size, np.arange(max(0, top - 12), top + 13))
    return 20 * np.log10(size_elsewhere.max() / size[top])


@pytest.mark.parametrize("frequency", [300.0, 1000.0, 2000.0])
@pytest.mark.parametrize("speed", [0.4, 2.0])
def test_a_moving_line_adds_no_zipper_noise(frequency, speed):
    # `speed` of the tube's length in m/s; measured -158, -116 and -92 dB at 300, 1000, 2000 Hz
    delays = 200.0 + speed / 343 * np.arange(20_000)
    assert floor(through(frequency, delays)) < -85
    # the same way in whole samples (-26 to -42), or told every 64 samples only (-34 to -60), is
    # heard
    assert floor(through(frequency, np.round(delays))) > -50
    assert floor(through(frequency, delays[np.arange(20_000) // 64 * 64])) > -65


def test_a_standing_read_delays_as_told():
    # between two samples too: 1 kHz, phase against the exact delay of 200.37 samples
    out = through(1000.0, np.full(8000, 200.37))
    w = 2 * np.pi * 1000 / RATE
    exact = np.sin(w * (np.arange(2000, 8000) - 199.37))
    # measured 6e-6: the polynomial's own error goes as w^4
    assert np.abs(out - exact).max() < 3e-5
