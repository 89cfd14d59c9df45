"""The blind test: chances, intervals, order of trials, and groups of listeners."""

import numpy as np
import pytest
from scipy import stats

from lipmodel.studies import blind_test

# ---- chance


@pytest.mark.parametrize(
    ("right", "count", "p"),
    # tail of the binomial distribution, summed by hand: 2517/65536 and 11/1024
    [(12, 16, 2517 / 65536), (9, 10, 11 / 1024), (0, 10, 1.0), (10, 10, 1 / 1024)],
)
def test_the_chance_of_guessing_is_exact(right, count, p):
    assert blind_test.chance_of(right, count) == pytest.approx(p, rel=1e-12)  # of doubles


def test_the_interval_is_the_one_of_the_beta_distribution():
    # the closed form of Clopper and Pearson's limits (textbook)
    low, high = blind_test.interval(12, 16)
    assert low == pytest.approx(stats.beta.ppf(0.025, 12, 5), abs=1e-9)
    assert high == pytest.approx(stats.beta.ppf(0.975, 13, 4), abs=1e-9)


def test_trials_are_even_and_follow_from_seed_and_code():
    found = blind_test.trials(4, 12, 7, "anna")
    assert found == blind_test.trials(4, 12, 7, "anna")
    assert found != blind_test.trials(4, 12, 7, "bert")
    assert found != blind_test.trials(4, 12, 8, "anna")
    scored = [t for t in found if not t.catch]
    pairs = [tuple(sorted((t.a, t.b))) for t in scored]
    assert {pairs.count(p) for p in pairs} == {2}  # six pairs in twelve trials
    assert [t.a == t.b for t in found] == [t.catch for t in found]
    assert len(found) - len(scored) == blind_test.catches(12) == 2


def test_every_letter_of_a_long_text_counts():
    text = "".join(map(str, range(300)))
    found = {blind_test.seal(f"{text[:i]}x{text[i + 1 :]}") for i in range(0, len(text), 7)}
    assert len(found) == len(range(0, len(text), 7))


def test_sides_and_keys_are_fair_coins():
    found = [t for n in range(400) for t in blind_test.trials(3, 10, 1, f"c{n}") if not t.catch]
    for heads in (sum(t.x for t in found), sum(t.a < t.b for t in found)):
        # 4000 tosses: three standard deviations are 0.024 (and the codes are fixed)
        assert heads / len(found) == pytest.approx(0.5, abs=0.024)
    firsts = sum(t.x == (t.a > t.b) for t in found)
    assert firsts / len(found) == pytest.approx(0.5, abs=0.024)


def brute(rights, counts):
    """Likeliest mean and spread of a beta-binomial on a grid, by the recurrence of its chances
    (P. Skellam 1948, from memory): no gamma function, no scipy."""
    best = (-np.inf, 0, 0)
    for mean in np.arange(0.02, 0.985, 0.01):
        for theta in np.arange(0, 1.0, 0.02):
            value = 0.0
            for r, n in zip(rights, counts, strict=True):
                up = np.sum(np.log(mean + theta * np.arange(r)))
                down = np.sum(np.log(1 - mean + theta * np.arange(n - r)))
                value += up + down - np.sum(np.log1p(theta * np.arange(n)))
            best = max(best, (value, mean, theta))
    _, mean, theta = best
    return mean, np.sqrt(theta / (1 + theta) * mean * (1 - mean))


@pytest.mark.parametrize(
    "scores", [[(5, 10), (9, 10), (7, 10), (14, 16), (4, 10)], [(10, 10), (5, 10), (6, 10)]]
)
def test_the_group_is_the_likeliest_one(scores):
    rights, counts = zip(*scores, strict=True)
    found = blind_test.group(rights, counts)
    mean, spread = brute(rights, counts)
    # the grid's own step is 0.01 in the mean and 0.02 in theta: up to 0.02 in the spread
    assert found.mean == pytest.approx(mean, abs=0.011)
    assert found.spread == pytest.approx(spread, abs=0.03)
    assert found.low < found.mean < found.high


def test_alike_listeners_have_no_spread():
    found = blind_test.group([8] * 5, [10] * 5)
    assert found.mean == pytest.approx(0.8, abs=1e-4)
    assert found.spread == 0.0
    # then it is one binomial of 40 in 50: its profile interval, solved here by itself
    grid = np.linspace(0.5, 0.99, 49_001)
    fall = 40 * np.log(0.8 / grid) + 10 * np.log(0.2 / (1 - grid))
    inside = grid[fall < 3.8415 / 2]
    # spread may help the profile a little beyond; the tail of the grid is 1e-5
    assert found.low == pytest.approx(inside[0], abs=0.01)
    assert found.high == pytest.approx(inside[-1], abs=0.01)


def test_listeners_who_differ_widen_the_interval():
    alike, differing = blind_test.group([7] * 6, [10] * 6), blind_test.group([4, 10] * 3, [10] * 6)
    assert differing.spread > 0.1
    assert differing.high - differing.low > 1.3 * (alike.high - alike.low)


@pytest.mark.slow
def test_the_interval_holds_the_truth_about_as_often_as_it_says():
    rng = np.random.default_rng(3)
    held_truth = 0
    for _ in range(200):
        shares = rng.beta(7, 3, size=15)  # mean 0.7, standard deviation 0.138
        found = blind_test.group(rng.binomial(16, shares), [16] * 15)
        held_truth += found.low <= 0.7 <= found.high
    # 95 % of 200 with a standard deviation of 3.1; a profile of 15 listeners is a little narrow
    assert held_truth >= 180
