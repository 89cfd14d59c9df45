"""Loudness, peaks and levels against the standards and closed forms."""

import numpy as np
import pyloudnorm
import pytest
from scipy.signal import lfilter
from support.music import RATE_HZ

from lipmodel.files import long_arrays
from lipmodel.files.long_arrays import pieces
from lipmodel.sound import loudness

LIMIT = 10 ** (-1 / 20)  # -1 dBTP
# EBU Tech 3341 (2023), table 1, cases 1 to 5, from memory: 1 kHz, in phase on both channels,
# (level of each channel in dBFS, seconds) and the loudness that a meter must show within 0.1 LU.
EBU_CASES = {
    "1: -23 dBFS": ([(-23, 20)], -23),
    "2: -33 dBFS": ([(-33, 20)], -33),
    "3: relative gate": ([(-36, 10), (-23, 60), (-36, 10)], -23),
    "4: both gates": ([(-72, 10), (-36, 10), (-23, 60), (-36, 10), (-72, 10)], -23),
    "5: three levels": ([(-26, 20), (-20, 20.1), (-26, 20)], -23),
}
EBU_TOLERANCE = 0.1  # LU, of the standard
# IEC 61672-1:2013, table 3, from memory: exact frequency 1000 10^(n/10), A-weighting in dB.
A_WEIGHTING = {
    "31.5 Hz": (-15, -39.4),
    "63 Hz": (-12, -26.2),
    "125 Hz": (-9, -16.1),
    "250 Hz": (-6, -8.6),
    "500 Hz": (-3, -3.2),
    "1 kHz": (0, 0.0),
    "2 kHz": (3, 1.2),
    "4 kHz": (6, 1.0),
    "8 kHz": (9, -1.1),
}


def sine(frequency, amplitude, length, phase=0.0, rate=RATE_HZ):
    return amplitude * np.sin(
        2 * np.pi * frequency * np.arange(round(length * rate)) / rate + phase
    )


@pytest.mark.parametrize(("parts", "expected"), EBU_CASES.values(), ids=EBU_CASES)
def test_loudness_passes_the_first_cases_of_the_broadcast_meter(parts, expected):
    # BS.1770 adds the energies of the channels: both together are one channel sqrt(2) as large
    samples = np.concatenate([sine(1000, np.sqrt(2) * 10 ** (d / 20), t) for d, t in parts])
    assert loudness.loudness(samples, RATE_HZ)[0] == pytest.approx(expected, abs=EBU_TOLERANCE)


@pytest.mark.parametrize("rate", [22_050, 44_100, 48_000, 96_000, 192_000])
def test_a_full_scale_tone_in_one_channel_has_the_loudness_of_the_standard(rate):
    # ITU-R BS.1770-4, Annex 1: 997 Hz at 0 dBFS in one channel reads -3.01 LKFS.  The meter's
    # filter is within 0.06 LU of it (measured, worst at 22 050 Hz); the broadcast tolerance.
    found, repeated = loudness.loudness(sine(997, 1.0, 5, rate=rate), rate)
    assert found == pytest.approx(-3.01, abs=EBU_TOLERANCE)
    assert not repeated


def test_a_sound_shorter_than_the_meters_block_is_repeated_and_says_so():
    found, repeated = loudness.loudness(sine(997, 1.0, 0.3), RATE_HZ)
    assert repeated
    # 299.1 periods: the seam between two copies is no tenth of a LU
    assert found == pytest.approx(-3.01, abs=EBU_TOLERANCE)


def test_true_peak_sees_what_lies_between_the_samples():
    # at a quarter of the rate and 45 degrees every sample is 1/sqrt(2) of the peak: 3.01 dB
    samples = loudness.faded(sine(RATE_HZ / 4, 0.5, 0.5, phase=np.pi / 4), RATE_HZ)
    assert np.max(np.abs(samples)) == pytest.approx(0.5 / np.sqrt(2), rel=1e-9)
    hidden = loudness.decibels(loudness.true_peak(samples) / np.max(np.abs(samples)))
    # measured 3.025: ripple of the interpolating filter; twice that allowed
    assert hidden == pytest.approx(20 * np.log10(np.sqrt(2)), abs=0.03)


def test_true_peak_of_nothing_is_nothing():
    assert loudness.true_peak(np.zeros(0)) == 0.0
    assert loudness.true_peak(np.zeros(100)) == 0.0


def test_fades_bring_both_ends_to_zero_without_a_step():
    samples = loudness.faded(np.ones(RATE_HZ // 10), RATE_HZ)
    count = round(2e-3 * RATE_HZ)
    assert samples[0] == 0.0
    assert samples[-1] == 0.0
    assert np.all(samples[count:-count] == 1.0)
    assert np.array_equal(samples, samples[::-1])
    # the steepest step of a raised cosine of 96 samples: pi/(2 96)
    assert np.max(np.abs(np.diff(samples))) <= np.pi / 2 / count
    assert np.all(np.diff(samples[:count]) > 0)


def test_fades_leave_the_given_pressure_as_it_was():
    pressure = np.ones(1000)
    loudness.faded(pressure, RATE_HZ)
    assert np.all(pressure == 1.0)


@pytest.mark.parametrize("scale", [1e-5, 1.0, 1e3])
def test_a_matched_tone_has_the_amplitude_of_its_loudness_whatever_its_pressure(scale):
    # a sine of -16 LUFS has an amplitude of -16 + 3.01 dBFS (BS.1770-4); 1e-5 Pa lies under the
    # absolute gate of the standard, which is meant for files
    leveled = loudness.matched(sine(997, scale, 2.0), RATE_HZ, -16.0)
    amplitude = loudness.decibels(np.max(np.abs(leveled.samples[RATE_HZ // 2 : -RATE_HZ // 2])))
    assert amplitude == pytest.approx(-16 + 3.01, abs=EBU_TOLERANCE)
    assert leveled.lufs == pytest.approx(-16.0, abs=1e-9)
    assert not leveled.limited
    assert leveled.gain_db == pytest.approx(amplitude - loudness.decibels(scale), abs=0.001)


@pytest.mark.parametrize("target", [-30.0, -16.0])
def test_a_matched_noise_measures_as_it_was_asked_to(target):
    noise = lfilter([1], [1, -0.9], np.random.default_rng(5).normal(size=2 * RATE_HZ))
    leveled = loudness.matched(noise, RATE_HZ, target)
    assert not leveled.limited
    assert loudness.loudness(leveled.samples, RATE_HZ)[0] == pytest.approx(target, abs=0.1)


def test_a_sound_of_clicks_is_held_at_its_true_peak_and_says_so():
    clicks = np.zeros(2 * RATE_HZ)
    clicks[RATE_HZ // 10 :: RATE_HZ // 2] = 30.0
    leveled = loudness.matched(clicks, RATE_HZ, -16.0)
    assert leveled.limited
    assert leveled.lufs < -16.1
    assert leveled.true_peak_dbtp == pytest.approx(-1.0, abs=1e-9)
    assert loudness.true_peak(leveled.samples) == pytest.approx(LIMIT, rel=1e-9)
    assert loudness.loudness(leveled.samples, RATE_HZ)[0] == pytest.approx(leveled.lufs, abs=0.1)


@pytest.mark.parametrize("pressure", [np.zeros(4800), np.full(4800, 1e-12)], ids=["zero", "dust"])
def test_silence_stays_silence(pressure):
    leveled = loudness.matched(pressure, RATE_HZ, -16.0)
    assert not np.any(leveled.samples)
    assert leveled.lufs == float("-inf")
    assert not leveled.limited
    assert loudness.loudness(np.zeros(4800), RATE_HZ)[0] == float("-inf")
    assert loudness.sound_levels(np.zeros(4800), RATE_HZ) == (float("-inf"), float("-inf"))


def test_calibrated_is_a_two_hundredth_of_the_pressure():
    leveled = loudness.calibrated(sine(1000, np.sqrt(2), 1.0), RATE_HZ)
    inside = leveled.samples[4800:-4800]
    assert np.sqrt(np.mean(inside**2)) == pytest.approx(1 / 200, rel=1e-12)
    assert leveled.gain_db == pytest.approx(-46.0206, abs=1e-4)


def test_calibrated_refuses_to_clip_even_between_samples():
    loudness.calibrated(sine(1000, 199.0, 0.1), RATE_HZ)
    with pytest.raises(ValueError, match=r"^the sound reaches 201 Pa, more than the 200 Pa of a"):
        loudness.calibrated(sine(1000, 201.0, 0.1), RATE_HZ)
    # samples of 156 Pa, peaks of 220 Pa between them
    with pytest.raises(ValueError, match="the sound reaches 22"):
        loudness.calibrated(sine(RATE_HZ / 4, 220.0, 0.1, phase=np.pi / 4), RATE_HZ)


def test_one_pascal_is_ninety_four_decibels():
    loudest, fast = loudness.sound_levels(sine(1000, np.sqrt(2), 3.0), RATE_HZ)
    assert loudest == pytest.approx(20 * np.log10(1 / 20e-6), abs=1e-6)
    # the fast meter swings with the tone's square: 1/(4 pi f 0.125 s) = 0.003 dB, measured 0.0035
    assert fast == pytest.approx(93.98, abs=0.007)


def test_the_loudest_second_is_found_wherever_it_is():
    pressure = np.concatenate([sine(1000, 0.01, 2), sine(1000, np.sqrt(2), 1), sine(1000, 0.01, 2)])
    assert loudness.sound_levels(pressure, RATE_HZ)[0] == pytest.approx(93.9794, abs=1e-3)


def test_the_fast_meter_rises_with_its_time_constant():
    # IEC 61672-1: time constant 125 ms; a burst of one constant reads 1 - 1/e: -1.99 dB
    burst = np.concatenate([np.zeros(RATE_HZ), sine(1000, np.sqrt(2), 0.125), np.zeros(RATE_HZ)])
    fast = loudness.sound_levels(burst, RATE_HZ)[1]
    # measured 0.0033 dB low: the swing of the square, and the A curve at the burst's ends
    assert fast == pytest.approx(93.9794 + 10 * np.log10(1 - np.exp(-1)), abs=0.01)


@pytest.mark.parametrize(("step", "weight"), A_WEIGHTING.values(), ids=A_WEIGHTING)
def test_the_ear_weighting_agrees_with_the_table(step, weight):
    frequency = 1000 * 10 ** (step / 10)
    # 0.2 s fades: the click of a cut low tone weighs more than the tone itself
    tone = sine(frequency, np.sqrt(2), 3.0)
    tone *= np.clip(np.minimum(np.arange(3 * RATE_HZ), np.arange(3 * RATE_HZ)[::-1]) / 9600, 0, 1)
    fast = loudness.sound_levels(tone, RATE_HZ)[1]
    # half a digit of the table, and the fast meter's swing of 1/(4 pi f 0.125 s)
    swing = 10 * np.log10(1 + 1 / (4 * np.pi * frequency * 0.125))
    assert fast - 93.9794 == pytest.approx(weight, abs=0.05 + 1.1 * swing)


@pytest.fixture(scope="module")
def minute():
    """A bit more than a minute: loud, soft, silent and loud again."""
    rng = np.random.default_rng(5)
    n = long_arrays.HELD + 200_000
    level = np.interp(np.arange(n) / n, [0, 0.3, 0.31, 0.6, 0.61, 0.8, 0.81, 1],
                      [1, 1, 0.02, 0.02, 0, 0, 0.4, 0.4])  # fmt: skip
    return rng.normal(scale=0.1, size=n) * level


def test_loudness_in_pieces_is_pyloudnorm_s_own(minute):
    expected = pyloudnorm.Meter(RATE_HZ).integrated_loudness(minute)
    assert loudness.long_loudness(minute, RATE_HZ) == pytest.approx(expected, abs=1e-6)
    assert loudness.loudness(minute, RATE_HZ) == (loudness.long_loudness(minute, RATE_HZ), False)
    assert loudness.long_loudness(np.zeros(len(minute)), RATE_HZ) == float("-inf")


def test_peaks_and_levels_in_pieces_are_those_of_the_whole(minute, monkeypatch):
    peak, levels = loudness.true_peak(minute), loudness.sound_levels(minute, RATE_HZ)
    monkeypatch.setattr(long_arrays, "HELD", 10 * len(minute))
    assert loudness.true_peak(minute) == pytest.approx(peak, rel=1e-12)
    assert loudness.sound_levels(minute, RATE_HZ) == pytest.approx(levels, abs=1e-6)


def test_fades_and_gain_where_it_is_sliced(minute):
    found = loudness.faded(minute, RATE_HZ) * 0.5
    whole = np.concatenate([found[p] for p in pieces(len(found), 1_000_003)])
    ramp = 0.5 - 0.5 * np.cos(np.pi * np.arange(96) / 96)
    expected = 0.5 * minute
    expected[:96] *= ramp
    expected[-96:] *= ramp[::-1]
    np.testing.assert_allclose(whole, expected, rtol=1e-12, atol=1e-15)
    assert not np.any(loudness.silenced(found)[0:1000])


def test_two_channels_pass_the_first_case_of_the_broadcast_meter():
    # EBU Tech 3341, case 1: 1 kHz, -23 dBFS, in phase in both channels: -23.0 +- 0.1 LUFS
    time = np.arange(20 * RATE_HZ) / RATE_HZ
    tone = 10 ** (-23 / 20) * np.sin(2 * np.pi * 1000 * time)
    assert loudness.loudness(np.column_stack([tone, tone]), RATE_HZ)[0] == pytest.approx(
        -23, abs=EBU_TOLERANCE
    )


def test_two_channels_get_one_gain_and_the_louder_peak_counts():
    rng = np.random.default_rng(3)
    both = rng.standard_normal((RATE_HZ, 2)) * [1.0, 0.25]
    leveled = loudness.matched(both, RATE_HZ, -20.0)
    assert leveled.lufs == pytest.approx(-20.0, abs=0.01)
    gain = 10 ** (leveled.gain_db / 20)
    inside = slice(200, -200)
    assert leveled.samples[inside] == pytest.approx(gain * both[inside], rel=1e-12)
    assert np.all(leveled.samples[[0, -1]] == 0)
    louder = loudness.true_peak(leveled.samples[:, 0])
    assert leveled.true_peak_dbtp == pytest.approx(loudness.decibels(louder), abs=1e-9)


def test_of_two_ears_the_louder_one_is_told_whole_and_in_pieces():
    rng = np.random.default_rng(4)
    quiet, loud = 0.1 * rng.standard_normal(2 * RATE_HZ), rng.standard_normal(2 * RATE_HZ)
    both = np.column_stack([quiet, loud])
    alone = loudness.sound_levels(loud, RATE_HZ)
    assert loudness.sound_levels(both, RATE_HZ) == pytest.approx(alone)
    assert loudness.sound_levels(long_arrays.Columns([quiet, loud]), RATE_HZ) == pytest.approx(
        alone
    )


def test_two_short_channels_are_repeated_as_they_stand():
    both = np.column_stack([np.sin(np.arange(4800) / 5), np.cos(np.arange(4800) / 7)])
    found, repeated = loudness.loudness(both, RATE_HZ)
    long = np.concatenate([both] * 20)
    assert repeated
    assert found == pytest.approx(loudness.loudness(long, RATE_HZ)[0], abs=0.05)


def test_a_long_pair_is_levelled_where_it_is_sliced(monkeypatch):
    rng = np.random.default_rng(5)
    both = rng.standard_normal((3 * RATE_HZ, 2))
    whole = loudness.matched(both, RATE_HZ, -23.0)
    monkeypatch.setattr(loudness, "HELD", RATE_HZ)
    in_pieces = loudness.matched(long_arrays.Columns(both.T), RATE_HZ, -23.0)
    assert in_pieces.lufs == pytest.approx(whole.lufs, abs=0.01)
    assert in_pieces.samples[:] == pytest.approx(whole.samples, rel=2e-3)
    assert not np.any(loudness.silenced(long_arrays.Columns(both.T))[:])
