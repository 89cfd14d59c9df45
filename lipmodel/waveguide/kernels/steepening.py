"""The loops of `sound/steepening.py`: a wave that overtakes itself, and what the walls take of it.

Arrays and floats in, arrays changed in place, nothing allocated.  The wave is carried by its
potential, the sum of its pressure over time: with p = d phi/dt, d phi/dx = k p^2/2, and after a
distance phi(t) = max over s of phi0(s) - (s - t)^2/(2 k x) (E. Hopf 1950, P. Lax 1957; in
acoustics W. D. Hayes et al. 1969, from memory).  Where the wave has not
broken, that is exact; where it would be of three values, the greatest potential picks the two
sides of the shock (the rule of equal areas), and the energy in between is lost.
"""

from math import ceil

from lipmodel.waveguide.kernels.compiler import compiled

OUTER = {"error_model": "numpy", "_nrt": False}
INNER = {**OUTER, "inline": "always"}
POLES = 4  # of the loss shelves
NOWHERE = -1e300
REST = 8  # samples at rest at both ends, at least


@compiled(**INNER)
def _carry(wave, kappa, stretch, dense, best):
    """Fill `best` with the potential half a sample after each sample or, `dense`, at every
    quarter of a sample.

    Sample i arrives kappa (1 + stretch) p earlier, its potential less by half of that times p.
    Between two samples lies the cubic with their pressures as slopes; a stretch that runs
    backwards is never the greatest potential and is left out.
    """
    n = wave.shape[0]
    a_sample, first = (4.0, 0.0) if dense else (1.0, 0.5)
    size = 4 * n if dense else n
    for i in range(size):
        best[i] = NOWHERE
    potential, t0, f0, p0 = 0.0, a_sample - first, 0.0, 0.0
    for i in range(2, n - 2):
        p = wave[i]
        # the integral of the cubic through four samples
        potential += (13.0 * (wave[i - 1] + p) - wave[i - 2] - wave[i + 1]) / 24.0
        early = kappa * (1.0 + stretch[i]) * p
        t, f = (i - early) * a_sample - first, potential - 0.5 * early * p
        width = t - t0
        if width > 0.0:
            m = max(ceil(t0), 0)
            span = width / a_sample
            d0, d1, rise, inverse = span * p0, span * p, f - f0, 1.0 / width
            while m <= t and m < size:
                u = (m - t0) * inverse
                bend = 3.0 * rise - 2.0 * d0 - d1 + u * (d0 + d1 - 2.0 * rise)
                value = f0 + u * (d0 + u * bend)
                if value > best[m]:
                    best[m] = value
                m += 1
        t0, f0, p0 = t, f, p


@compiled(**INNER)
def _lose(p, w, scale, c0, c1, c2, c3, m0, m1, m2, m3):
    """Shelves side by side on one sample, 1 - sum of w (1 - z^-1)/(1 - (1 - c) z^-1); returns
    the sample and the shelves' memories, which as an array would cost twice as much."""
    h0, h1, h2, h3 = p - m0, p - m1, p - m2, p - m3
    lost = w[0] * h0 + w[1] * h1 + (w[2] * h2 + w[3] * h3)
    return p - scale * lost, m0 + c0 * h0, m1 + c1 * h1, m2 + c2 * h2, m3 + c3 * h3


@compiled(**INNER)
def _mean(best, i, dense):
    """Mean pressure over sample i: what lies between two potentials; `dense`, the mean of seven
    such means around it, in a triangle, so that the images of a shock do not fold back."""
    if not dense:
        return best[i] - best[i - 1]
    j = 4 * i
    mean = 4.0 * (best[j + 2] - best[j - 2]) + 3.0 * (best[j + 3] - best[j - 3])
    mean += 2.0 * (best[j + 1] - best[j - 1] + best[j + 4] - best[j - 4])
    return (mean + best[j + 5] - best[j - 5]) / 16.0


@compiled(**INNER)
def _walls(wave, linear, best, carried, dense, more, weight, coefficient):
    """Losses on both waves; before them, if `carried`, the means over a sample, of `linear` as
    they are without steepening."""
    n = wave.shape[0]
    c0, c1, c2, c3 = coefficient[0], coefficient[1], coefficient[2], coefficient[3]
    m0, m1, m2, m3 = 0.0, 0.0, 0.0, 0.0
    for i in range(n):
        p = wave[i]
        if carried:
            p = _mean(best, i, dense) if REST <= i < n - REST else 0.0
        scale = 1.0 + more[i]
        wave[i], m0, m1, m2, m3 = _lose(p, weight, scale, c0, c1, c2, c3, m0, m1, m2, m3)
    if linear is not None:
        m0, m1, m2, m3 = 0.0, 0.0, 0.0, 0.0
        e, d, c, b, a = 0.0, 0.0, 0.0, linear[0], linear[1]
        for i in range(n):
            e, d, c, b = d, c, b, a
            a = linear[i + 2] if i + 2 < n else 0.0
            p = (38.0 * c + 6.0 * (d + b) - e - a) / 48.0 if carried else c
            scale = 1.0 + more[i]
            linear[i], m0, m1, m2, m3 = _lose(p, weight, scale, c0, c1, c2, c3, m0, m1, m2, m3)


@compiled(**OUTER)
def steepen(wave, linear, kappa, stretch, more, weight, coefficient, dense, best):
    """Change `wave` (Pa, shape (n,)) into what it is at the far end, and `linear`, the same wave
    at first or None, into what it would be without steepening but with the same losses and the
    same means over a sample.

    kappa: samples a Pa, one a step, (m,); weight: shelves before, between and after the steps,
    (m + 1, POLES); stretch, more: by how much steepening and losses are larger at every sample,
    (n,); best: room of shape (4 n,).  Both ends of `wave` must be at rest.  `dense` is for
    shocks: the last step's means are then over more than a sample (`dense_mean` in
    `sound/steepening.py`), of `wave` alone.
    """
    last = kappa.shape[0] - 1
    _walls(wave, linear, best, False, False, more, weight[0], coefficient)
    for step in range(kappa.shape[0]):
        close = dense and step == last
        _carry(wave, kappa[step], stretch, close, best)
        _walls(wave, linear, best, True, close, more, weight[step + 1], coefficient)


@compiled(**OUTER)
def late(wave, delay, out):
    """Fill `out` with the wave `delay` samples (0 or more, shape (n,)) before: Lagrange's cubic."""
    n = wave.shape[0]
    for i in range(n):
        at = i - delay[i]
        first = int(at) - 1
        if at < 1.0 or first + 3 >= n:
            out[i] = 0.0
            continue
        d = at - first
        a, b, c = d - 1.0, d - 2.0, d - 3.0
        out[i] = (
            -a * b * c / 6.0 * wave[first]
            + 0.5 * d * b * c * wave[first + 1]
            - 0.5 * d * a * c * wave[first + 2]
            + d * a * b / 6.0 * wave[first + 3]
        )
