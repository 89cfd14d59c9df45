"""Fades from one length of a line to another: how a valve on its way is heard.

While a fade lasts a wave may be read from both lengths, which could give back more than came in.
With weights 1 - m and m, m rising from 0 to 1, and delays a and b = a + D, a sample that came in
is read twice: s^2(t) (1 - m(t)) + s^2(t + D) m(t + D) of its energy goes on.  By the mean value
theorem that is at most 1 if s^2 (1 + D m') <= 1 with the steepest m' within D of t (Schur's test
for the operator).  So that s is 1 where a fade begins and ends, m rests for D samples there.
Where the line grows shorter the sum is never above 1.  Half a sample is read by an allpass, which
spreads a wave by about one: D counts one and a half more.
"""

import numpy as np

from lipmodel.waveguide.filters import thiran

MOST_REST = 0.3  # of a fade
PRIMING = 48  # samples in which an allpass of half a sample forgets how it began


def fade(progress, travel, change):
    """How far each moment of a fade has come, shape (n,), and what every line is scaled by
    meanwhile, shape (m, n).

    progress: of the way, 0 to 1, shape (n,); travel: samples of the whole way; change: samples by
    which each line grows, shape (m,).
    """
    progress, change = np.asarray(progress, float), np.asarray(change, float)
    spread = np.maximum(change, 0.0) + 1.5
    rest = min(float(spread.max(initial=1.0)) / travel, MOST_REST)
    way = (progress - rest) / (1 - 2 * rest)
    mix = 0.5 - 0.5 * np.cos(np.pi * np.clip(way, 0.0, 1.0))
    near = (spread / (travel * (1 - 2 * rest)))[:, None]
    steepest = np.clip(np.clip(0.5, way - near, way + near), 0.0, 1.0)
    slope = 0.5 * np.pi / (travel * (1 - 2 * rest)) * np.sin(np.pi * steepest)
    scale = 1 / np.sqrt(1 + spread[:, None] * slope)
    return mix, np.where((change != 0)[:, None], scale, 1.0)


def hand_over(state, from_, to):
    """The allpass memory of every line's first and second tap as it is after what the line holds:
    a tap's memory goes with it when a fade ends, and a tap that begins to be read is brought to
    where it would be."""
    before, state.taps = state.taps, (np.array(from_, float), np.array(to, float))
    if before is None:  # from rest
        return
    for m, delays in enumerate(zip(from_, to, strict=True)):
        known = {float(line[m]): state.line_old[m, :, tap].copy() for tap, line in
                 reversed(list(enumerate(before)))}  # fmt: skip
        for tap, delay in enumerate(map(float, delays)):
            if tap == 1 and delay == delays[0]:
                continue  # not read
            if delay not in known:
                known[delay] = primed(state, m, delay)
            state.line_old[m, :, tap] = known[delay]


def primed(state, m: int, delay: float) -> np.ndarray:
    """Last input and output, both ways, of line `m`'s allpass for `delay` samples, shape (2, 2),
    had it been read for a while."""
    whole, a = thiran(delay)
    size, at = state.buffers.shape[2], int(state.place[2])
    count = max(0, min(PRIMING, size - int(whole) - 2))
    ages = np.arange(count, -1, -1)
    x = state.buffers[m][:, (at + 1 - int(whole) - ages) % size]
    y = x[:, 0]
    for before, now in zip(x.T[:-1], x.T[1:], strict=True):
        y = a * (now - y) + before
    return np.stack([x[:, -1], y], axis=1)
