"""Notes found in a pitch track."""

import numpy as np
import pytest

from lipmodel.analysis.segments import spans

HOP = 0.01


def stairs(steps, seconds=0.6):
    """A track that holds each of `steps` (cents over 200 Hz), smeared over 50 ms at jumps as
    overlapping frames smear it, while the lips rise evenly."""
    frames = int(seconds / HOP)
    cents = np.repeat(np.array(steps, float), frames)
    cents += 0.2 * np.tile(np.arange(frames), len(steps)) * HOP * 170
    cents = np.convolve(np.pad(cents, 2, mode="edge"), np.ones(5) / 5, mode="valid")
    times = HOP * np.arange(len(cents))
    tension = 180 * 2 ** (170 * times / 1200)
    return times, 200 * 2 ** (cents / 1200), tension


def test_small_steps_are_notes_of_their_own():
    # a step of 110 cents over five frames moves 22 cents a frame: no single frame jumps
    found = spans(*stairs([0, 110, 230, 900]))
    assert len(found) == 4
    assert all(s.swept for s in found)


def test_a_glide_is_one_note():
    times = HOP * np.arange(400)
    tension = 150 * 2 ** (300 * times / 1200)
    (found,) = spans(times, 1.1 * tension, tension)
    assert found.end - found.start > 3.5
    assert found.lock == pytest.approx(0, abs=0.01)


def test_a_very_fast_glide_is_still_heard():
    times = HOP * np.arange(100)
    tension = 150 * 2 ** (2400 * times / 1200)
    assert len(spans(times, 1.1 * tension, tension)) == 1


def test_a_blip_is_no_note():
    times, track, tension = stairs([0, 700])
    track[:60] = np.nan
    track[20:35] = 52.0
    assert len(spans(times, track, tension)) == 1
