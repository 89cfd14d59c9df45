"""Lock along a sweep, against a straight line fitted by hand, and sweeps played in pieces."""

import numpy as np
import pytest

from lipmodel.analysis import lock
from lipmodel.analysis.lock import WINDOW, branch, sweep_lock
from lipmodel.player import resting
from lipmodel.player.instrument import load_instrument
from lipmodel.player.short_note import play_note


def test_lock_of_a_sweep_is_one_less_the_slope_of_a_straight_line():
    rng = np.random.default_rng(5)
    setting = np.linspace(0.0, 700.0, 1200)  # cents; more frames than are taken at a time
    heard = 0.3 * setting + 20 * np.sin(setting / 60) + rng.normal(0, 0.5, len(setting))
    heard[400:] += 200.0  # a jump parts two pieces
    found = sweep_lock(200 * 2 ** (setting / 1200), 230 * 2 ** (heard / 1200))
    for i in (0, 7, 200, 380, 700, 1000, 1199):
        near = np.abs(setting - setting[i]) <= WINDOW / 2
        near &= (np.arange(1200) < 400 - lock.ACROSS) == (i < 400)
        near &= (np.arange(1200) >= 400 + lock.ACROSS) == (i >= 400)
        slope = np.polyfit(setting[near], heard[near], 1)[0]
        assert found[i] == pytest.approx(1 - slope, abs=1e-6)  # round-off of squares of cents
    assert np.isnan(found[400])


def test_too_few_frames_have_no_lock():
    assert np.isnan(sweep_lock(np.array([200.0, 201.0, 202.0]), np.full(3, 230.0))).all()
    apart = np.array([200.0, 210.0, 220.0, 230.0, 240.0])  # one frame in each window
    assert np.isnan(sweep_lock(apart, np.full(5, 230.0))).all()


@pytest.fixture(scope="module")
def trumpet_horn():
    """(horn at 24 kHz, Pa and Hz of its open second partial)."""
    return resting.horn_of(load_instrument("trumpet"), resting.COARSE), 3000.0, 225.0


@pytest.mark.parametrize("thinned", [1, 2])
def test_a_sweep_is_the_same_however_long_the_pieces_are_that_it_is_played_in(
    monkeypatch, trumpet_horn, thinned
):
    """No frame is missing between two pieces; the last one only ends elsewhere."""
    horn, mouth, tension = trumpet_horn
    found = {}
    for chunk in (0.3, 0.75):
        monkeypatch.setattr(lock, "SWEEP_CHUNK", chunk)
        _, state = play_note(horn, tension, mouth, 0.45)
        found[chunk] = branch(horn, state, mouth, tension, None, 233.0, (218.0, 250.0), thinned)
    short, long = found[0.3], found[0.75]
    assert len(short.tension) > 60
    np.testing.assert_allclose(short.tension, long.tension, rtol=1e-12)
    np.testing.assert_allclose(short.frequency, long.frequency, rtol=1e-9)
    steps = 1200 * np.diff(np.log2(short.tension))
    # 1.7 cents of setting a frame; a frame's length is missing only where the two ways meet
    assert np.sum(steps > 2) == 1
