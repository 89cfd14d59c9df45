"""An octave that is heard and not drawn: sounds whose every second period differs."""

import numpy as np
import pytest
from support.music import RATE

from lipmodel.analysis.pitch import pitch
from lipmodel.player.performance import perform
from lipmodel.scene.scene import Scene
from lipmodel.studies.heard import octave_low

SWEEP = [[0.0, 150.0], [4.0, 800.0]]
SLOW = [[0.0, 120.0], [2.0, 181.0], [4.0, 273.0]]


def test_a_period_that_differs_from_the_next_is_an_octave_low():
    t = np.arange(RATE) / RATE
    even = np.sin(2 * np.pi * 220 * t) + 0.5 * np.sin(2 * np.pi * 440 * t)
    odd = even + 0.8 * np.sin(2 * np.pi * 110 * t) * (t > 0.5)
    times = np.arange(0.0, 0.9, 0.01)
    track = np.full(len(times), 220.0)
    assert octave_low(times, track, even, RATE) == []
    (row,) = octave_low(times, track, odd, RATE)
    assert row["start_s"] == pytest.approx(0.49, abs=0.05)
    assert row["frequency_hz"] == 110


def heard_of(name, pascal_per_hz, sweep):
    (_, first), *others = sweep
    breath = [[t, pascal_per_hz * hz / 1e3] for t, hz in [(0.05, first), *others]]
    tables = {
        "instrument": {"name": name},
        "player": {"tension_hz": sweep, "pressure_kpa": [[0.0, 0.0], *breath]},
        "sound": {"length_s": 4.0},
    }
    done = perform(Scene.from_dict(tables))
    times, track = pitch(done.played.mouthpiece_pressure, done.built.rate)
    return octave_low(times, track, done.radiated_pressure, done.built.rate), times, track


@pytest.mark.slow
@pytest.mark.parametrize("name", ["hailing_cone", "mouthpiece"])
@pytest.mark.parametrize("pascal_per_hz", [18.0, 22.0])
def test_lips_that_nothing_holds_glide_without_an_octave_and_without_a_leap(name, pascal_per_hz):
    rows, _, track = heard_of(name, pascal_per_hz, SWEEP)
    assert rows == []
    known = track[np.isfinite(track)]
    assert len(known) > 0.85 * len(track)
    # measured 14 to 36 cents between two frames
    assert np.abs(1200 * np.log2(known[1:] / known[:-1])).max() < 60


def test_breath_far_beyond_what_lips_need_is_heard_an_octave_low_and_told():
    rows, _, _ = heard_of("hailing_cone", 30.0, SLOW)
    # measured from 0.2 to 3.3 s, where autocorrelation at one period is 0.14 to 0.8
    assert sum(r["end_s"] - r["start_s"] for r in rows) > 2.5
    assert all(70 < r["frequency_hz"] < 150 for r in rows)
