"""Blind listening: the order of the trials, and what a score says.

The order follows from the seed of the set and the listener's code alone.  pages/blind.js has the
same few lines, so that a file of results can be checked against what was asked.
"""

from dataclasses import dataclass
from itertools import combinations

import numpy as np
from scipy.optimize import brentq, minimize_scalar
from scipy.special import expit, logit
from scipy.stats import betabinom, binom, binomtest, chi2

from lipmodel.files import tables

CONFIDENCE = 0.95
EACH = 5  # scored trials to one catch trial
FEWEST, MOST = 10, 50  # scored trials of a session
GROUP = 3  # listeners: fewer tell nothing about others
WIDEST = 0.95  # of the spread between listeners, as a correlation
MASK = 0xFFFFFFFF


@dataclass(frozen=True)
class Trial:
    """Numbers of the sounds called A and B; `x` is 0 where X is A, 1 where it is B.  In a catch
    trial A and B are the same sound."""

    a: int
    b: int
    x: int
    catch: bool


def digest(text: str) -> tuple[int, int, int, int]:
    """128 bits of a text (UTF-16 code units), by multiplying and mixing; not for secrets."""
    units = np.frombuffer(text.encode("utf-16-le", "surrogatepass"), "<u2").tolist()
    h = [1779033703, 3144134277, 1013904242, 2773480762]
    by = (597399067, 2869860233, 951274213, 2716044179)
    for unit in units:
        h = [(v ^ unit) * factor & MASK for v, factor in zip(h, by, strict=True)]
    mixed = []
    for i in range(4):
        v = h[i]
        for shift, factor in ((16, 0x85EBCA6B), (13, 0xC2B2AE35)):
            v = ((v ^ (v >> shift)) * factor) & MASK
        mixed.append(v ^ (v >> 16))
    return tuple(mixed)


def seal(text: str) -> str:
    """`digest` in 32 hexadecimal digits."""
    return "".join(f"{part:08x}" for part in digest(text))


def chances(text: str):
    """Endless even numbers from 0 to 1 that follow from a text (a 128-bit counter generator:
    three words mixed, one counted)."""
    a, b, c, d = digest(text)
    while True:
        t = (a + b + d) & MASK
        d = (d + 1) & MASK
        a = b ^ (b >> 9)
        b = (c + (c << 3)) & MASK
        c = ((c << 21) | (c >> 11)) & MASK
        c = (c + t) & MASK
        yield t / 2**32


def shuffled(items, chance) -> list:
    """`items` in a new order (Fisher and Yates)."""
    made = list(items)
    for i in range(len(made) - 1, 0, -1):
        j = int(next(chance) * (i + 1))
        made[i], made[j] = made[j], made[i]
    return made


def catches(count: int) -> int:
    """Catch trials among `count` scored ones."""
    return round(count / EACH)


def trials(sounds: int, count: int, seed: int, code: str) -> list[Trial]:
    """The trials of a session with `count` scored ones, of all pairs as evenly as can be.

    Which sound is A and whether X is A or B are tosses of a coin, apart for every trial.
    """
    chance = chances(f"{seed}/{code}/{count}")
    for _ in range(20):
        next(chance)
    pairs, drawn = list(combinations(range(sounds), 2)), []
    while len(drawn) < count:
        drawn += shuffled(pairs, chance)
    whole = [(*pair, False) for pair in drawn[:count]]
    for _ in range(catches(count)):
        same = int(next(chance) * sounds)
        whole.append((same, same, True))
    made = []
    for a, b, catch in shuffled(whole, chance):
        turned, x = next(chance) < 0.5, next(chance) < 0.5
        made.append(Trial(*((b, a) if turned else (a, b)), int(x), catch))
    return made


def chance_of(right: int, count: int) -> float:
    """Exact one-sided probability of `right` or more of `count` by guessing (binomial, 1/2)."""
    return float(binomtest(right, count, 0.5, "greater").pvalue)


def interval(right: int, count: int) -> tuple[float, float]:
    """95 % interval of the share of right answers (C. J. Clopper and E. S. Pearson, Biometrika
    26, 404-413, 1934)."""
    exact = binomtest(right, count).proportion_ci(CONFIDENCE, "exact")
    return float(exact.low), float(exact.high)


@dataclass(frozen=True)
class Group:
    """Mean share of right answers, its 95 % interval, and how listeners spread (standard
    deviation of their own shares); None where there are too few listeners to tell."""

    listeners: int
    mean: float
    low: float | None
    high: float | None
    spread: float | None


def likelihood(rights, counts, mean, spread) -> float:
    """Log of the chance of these scores when listeners' shares are spread by a beta distribution
    of that `mean`; `spread` is their correlation, 0 for listeners who are all alike."""
    if spread < 1e-6:
        return float(np.sum(binom.logpmf(rights, counts, mean)))
    size = 1 / spread - 1
    return float(np.sum(betabinom.logpmf(rights, counts, mean * size, (1 - mean) * size)))


def _best_spread(rights, counts, mean) -> tuple[float, float]:
    """The likeliest spread for a mean, and the log-likelihood there; spread on a grid, refined."""
    grid = np.concatenate([[0.0], np.geomspace(1e-4, WIDEST, 24)])
    values = [likelihood(rights, counts, mean, spread) for spread in grid]
    best = int(np.argmax(values))
    if best == 0:
        return 0.0, values[0]
    low, high = grid[best - 1], grid[min(best + 1, len(grid) - 1)]
    optimum = minimize_scalar(
        lambda s: -likelihood(rights, counts, mean, s), bounds=(low, high), method="bounded"
    )
    return float(optimum.x), float(max(-optimum.fun, values[best]))


def group(rights, counts) -> Group:
    """What listeners of such scores have in common: a beta-binomial fit by greatest likelihood.

    `rights` of `counts` answers, one of each a listener.  The interval of the mean is where the
    profile likelihood falls by less than chi-squared's 95 % point over 2.
    """
    rights, counts = np.asarray(rights), np.asarray(counts)
    pooled = float(np.clip(rights.sum() / counts.sum(), 1e-4, 1 - 1e-4))
    if len(rights) < GROUP:
        return Group(len(rights), float(rights.sum() / counts.sum()), None, None, None)

    def profile(where):
        return _best_spread(rights, counts, float(expit(where)))[1]

    middle = float(logit(pooled))
    optimum = minimize_scalar(
        lambda where: -profile(where), bounds=(middle - 3, middle + 3), method="bounded"
    )
    best, top = float(optimum.x), -float(optimum.fun)
    fall = chi2.ppf(CONFIDENCE, 1) / 2

    def below(where):
        return top - profile(where) - fall

    ends = [
        float(expit(brentq(below, best, best + way))) if below(best + way) > 0 else float(way > 0)
        for way in (-12.0, 12.0)
    ]
    mean = float(expit(best))
    spread, _ = _best_spread(rights, counts, mean)
    return Group(len(rights), mean, *ends, float(np.sqrt(spread * mean * (1 - mean))))


def set_of(sums) -> str:
    """Name of a set of different sounds: the SHA-256 of theirs, one after another."""
    return tables.digest("".join(sums).encode())
