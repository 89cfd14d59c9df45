"""Several sounds from one start, equally long and equally loud."""

import numpy as np
import pyloudnorm
import pytest

from lipmodel.sound import alignment

RATE = 48_000


# ---- one start, one length, one loudness


def tone(start, length, level, frequency=440.0):
    """A tone that begins at `start` s, rising in 20 ms."""
    time = np.arange(int(length * RATE)) / RATE
    rise = np.clip((time - start) / 0.02, 0, 1)
    return level * rise * np.sin(2 * np.pi * frequency * time)


def test_sounds_start_together_and_last_as_long():
    starts = (0.05, 0.31, 0.1)
    even = alignment.align([tone(s, 1.5 + s, 3.0) for s in starts], RATE, -20.0)
    assert len({len(e.samples) for e in even}) == 1
    # the windows step by 1 ms
    assert np.ptp([e.onset - s for e, s in zip(even, starts, strict=True)]) <= 1.01e-3
    begins = [alignment.onset(e.samples, RATE) for e in even]
    assert np.ptp(begins) <= 1.01e-3


def test_a_crescendo_starts_where_it_starts():
    time = np.arange(2 * RATE) / RATE
    growing = tone(0.1, 2.0, 1.0) * 10 ** (1.5 * (time - 0.1) / 1.9)  # by 30 dB
    # the level is 12 dB down about 5 ms into a rise of 20 ms, and the window is 20 ms
    assert alignment.onset(growing, RATE) == pytest.approx(0.105, abs=0.01)


@pytest.mark.parametrize("levels", [(1.0, 0.1, 30.0), (0.02, 0.02, 0.02)])
def test_sounds_are_equally_loud(levels):
    even = alignment.align([tone(0.1, 2.0, a, 200.0 * a**0.1) for a in levels], RATE, -18.0)
    for found in even:
        # BS.1770 allows a meter 0.1 LU; pyloudnorm on the same samples differs by rounding only
        assert pyloudnorm.Meter(RATE).integrated_loudness(found.samples) == pytest.approx(
            -18.0, abs=0.01
        )
    taken = [even[0].gain_db - e.gain_db for e in even]
    # K weighting is flat within 0.2 dB from 150 to 300 Hz (BS.1770-4, figure 4)
    assert taken == pytest.approx([20 * np.log10(a / levels[0]) for a in levels], abs=0.3)


def test_where_one_peak_does_not_fit_all_are_lowered_alike():
    click = tone(0.1, 2.0, 1e-3)
    click[RATE] = 1.0
    even = alignment.align([tone(0.1, 2.0, 1.0), click], RATE, -18.0)
    assert [e.limited for e in even] == [False, True]
    assert even[0].lufs == even[1].lufs < -18.0
    assert max(e.true_peak_dbtp for e in even) == pytest.approx(-1.0, abs=1e-9)
    for found in even:
        level = pyloudnorm.Meter(RATE).integrated_loudness(found.samples)
        assert level == pytest.approx(found.lufs, abs=0.01)


def test_silence_is_refused_by_number():
    with pytest.raises(ValueError, match="1"):
        alignment.align([tone(0.1, 1.0, 1.0), np.zeros(RATE)], RATE, -18.0)


def test_sounds_keep_their_length_when_their_rate_changes():
    tone = np.sin(2 * np.pi * 440 * np.arange(96_000) / 96_000)
    assert len(alignment.resampled(tone, 96_000, 48_000)) == 48_000
    assert len(alignment.resampled(tone, 48_000, 48_000)) == 96_000
