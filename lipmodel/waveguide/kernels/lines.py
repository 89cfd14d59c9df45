"""Delay lines of the time loops: whole samples and an allpass, or moving, with their losses.

The rules of `time_loop.py` hold here: these functions are written into its loop and into that of
`source_loop.py`.
"""

from lipmodel.waveguide.kernels.compiler import INNER, compiled


@compiled(**INNER)
def _read(buffers, m, way, at, tap, which, old):
    """A delay of whole samples and a first-order Thiran allpass; `old` = last in, last out."""
    mask = buffers.shape[2] - 1
    x = buffers[m, way, (at + 1 - int(tap[m, 0])) & mask]
    y = tap[m, 1] * (x - old[m, way, which, 1]) + old[m, way, which, 0]
    old[m, way, which, 0] = x
    old[m, way, which, 1] = y
    return y


@compiled(**INNER)
def line(buffers, m, way, at, tap_a, tap_b, fading, mix, scale, poles, memory, old):
    """(6) one way through a line; `tap` = whole, allpass, five shelf weights.

    Returns the wave before and after its losses.
    """
    before = _read(buffers, m, way, at, tap_a, 0, old)
    if fading:
        other = _read(buffers, m, way, at, tap_b, 1, old)
        before = scale * ((1.0 - mix) * before + mix * other)
    lost = 0.0
    for j in range(5):
        high = before - memory[m, way, j]
        memory[m, way, j] += poles[j] * high
        lost += (tap_a[m, 2 + j] + mix * (tap_b[m, 2 + j] - tap_a[m, 2 + j])) * high
    return before, before - lost


@compiled(**INNER)
def lagrange(d):
    """Weights of four samples that read `d` samples back, 1 <= d <= 2: Lagrange's polynomial,
    h_n = product over k != n of (d - k)/(n - k).  Between the middle two it never amplifies."""
    a, b, c = d - 1.0, d - 2.0, d - 3.0
    return -a * b * c / 6.0, 0.5 * d * b * c, -0.5 * d * a * c, d * a * b / 6.0


@compiled(**INNER)
def read_between(buffers, m, way, at, delay):
    """A delay of any length from 2 samples up that may change from sample to sample."""
    mask = buffers.shape[2] - 1
    whole = int(delay) - 2  # the line's cell is the first sample, `lagrange` one or two more
    h0, h1, h2, h3 = lagrange(delay - 1.0 - whole)
    i = at - whole
    return (
        h0 * buffers[m, way, i & mask]
        + h1 * buffers[m, way, (i - 1) & mask]
        + h2 * buffers[m, way, (i - 2) & mask]
        + h3 * buffers[m, way, (i - 3) & mask]
    )


@compiled(**INNER)
def moving_line(
    buffers, m, way, at, near, added, gain, share, tap_a, tap_b, far, fading, mix, scale, poles,
    memory,
):  # fmt: skip
    """(6) for the line of a moving slide, which adds `added` samples to `near` (valves from, to).

    `gain` = sqrt(1 - D'): reading at D(t) multiplies energy by 1/(1 - D').  Shelf weights lie
    `share` of the way from those of the taps to those of `far`.
    """
    before = read_between(buffers, m, way, at, near[0] + added)
    if fading:
        other = read_between(buffers, m, way, at, near[1] + added)
        before = scale * ((1.0 - mix) * before + mix * other)
    before *= gain
    lost = 0.0
    for j in range(5):
        high = before - memory[m, way, j]
        memory[m, way, j] += poles[j] * high
        here = tap_a[m, 2 + j] + mix * (tap_b[m, 2 + j] - tap_a[m, 2 + j])
        there = far[0, 2 + j] + mix * (far[1, 2 + j] - far[0, 2 + j])
        lost += (here + share * (there - here)) * high
    return before, before - lost


@compiled(**INNER)
def cross_lines(
    line_cell, r, l, at, right, left, buffers, tap, poles, memory, old, drain, padded
):  # fmt: skip
    """Both ways through lines whose delays stand; `drain` sums what they lose, or is None."""
    for m in range(line_cell.shape[0]):
        cell = line_cell[m]
        buffers[m, 0, at] = right[r + cell]
        buffers[m, 1, at] = left[l + cell]
        out, right[r + cell] = line(
            buffers, m, 0, at, tap, tap, False, 0.0, 1.0, poles, memory, old
        )
        back, left[l + cell] = line(
            buffers, m, 1, at, tap, tap, False, 0.0, 1.0, poles, memory, old
        )
        if drain is not None:
            drain[padded + m] += out**2 - right[r + cell] ** 2 + back**2 - left[l + cell] ** 2
