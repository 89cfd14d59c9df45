"""Sounds of one page: equally loud, or as loud as they are."""

import numpy as np
import pytest

from lipmodel.output.pages.loudness import apart, choice, turned_down
from lipmodel.sound import loudness

RATE = 48_000


def test_both_choices_hold_for_what_is_then_heard():
    rng = np.random.default_rng(3)
    noise = rng.standard_normal(2 * RATE)
    noise[RATE] *= 20  # a peak that keeps one file below its loudness
    pressures = [0.5 * rng.standard_normal(2 * RATE), 0.02 * rng.standard_normal(2 * RATE), noise]
    files = [loudness.matched(p, RATE, -16.0) for p in pressures]
    turned = turned_down([f.lufs for f in files], [f.gain_db for f in files])

    def heard(down):
        return [
            loudness.matched(10 ** (-d / 20) * f.samples, RATE, -70.0).gain_db
            for d, f in zip(down, files, strict=True)
        ]

    assert np.ptp(heard(turned.equal)) < 0.1
    real = np.array(heard(turned.real)) - heard([0.0] * 3)
    played = [20 * np.log10(p.std()) for p in pressures]
    as_heard = [f.lufs - r for f, r in zip(files, real, strict=True)]
    assert np.diff(as_heard) == pytest.approx(np.diff(played), abs=0.5)
    assert min(turned.real) == min(turned.equal) == 0.0
    assert turned.apart == pytest.approx(np.ptp(played), abs=0.5)


def test_sounds_that_are_alike_have_no_choice_and_silence_is_no_sound():
    assert choice(turned_down([-16.0], [3.0])) == ""
    assert choice(turned_down([-16.0, -16.0], [3.0, 3.2])) == ""
    turned = turned_down([-16.0, None, -16.0], [3.0, 90.0, 12.2])
    assert "the softest sound is 9 dB softer" in apart(turned)
    assert choice(turned).count('type="radio"') == 2
