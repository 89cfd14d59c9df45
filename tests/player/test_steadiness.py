"""Drifts of lips and breath: their spectrum, their seeds, and what they leave alone."""

from dataclasses import fields

import numpy as np
import pytest
from scipy.signal import coherence, welch
from support.long_runs import SHORT, short_memory
from support.scenes import scene

from lipmodel.files.long_arrays import FileRoom
from lipmodel.player.performance import perform
from lipmodel.player.steadiness import BREATH, CORNER, LIPS, Unsteady, Wander

RATE = 48_000
HELD = "tension_hz = 330\npressure_kpa = 6\n"
MINUTES = 10 * 60 * RATE // 10  # samples of 10 minutes at a tenth of the rate


def wander(kind, seed=1, take=1, samples=MINUTES, rate=RATE / 10):
    return Wander(kind, seed, take, rate).sampled(0, samples)


@pytest.mark.parametrize("kind", [LIPS, BREATH])
def test_a_drift_is_even_and_then_falls_as_one_over_f_squared(kind):
    wave = wander(kind)
    # 2000 and more independent values: 2 % of the deviation, 0.02 of the mean
    assert np.std(wave) == pytest.approx(1, rel=0.07)
    assert abs(np.mean(wave)) < 0.08
    frequency, power = welch(wave, RATE / 10, nperseg=1 << 15)

    def at(hz):
        return power[(frequency > 0.8 * hz) & (frequency < 1.25 * hz)].mean()

    corner = CORNER[kind]
    # of a first-order fall: half at the corner, a fifth and a seventeenth at 2 and 4 times it
    for times, share in ((1, 0.5), (2, 0.2), (3, 0.1)):
        assert at(times * corner) / at(corner / 6) == pytest.approx(share, rel=0.25)
    # and gone where it would make the wave in a long tube swing: 0.01 by 1/f^2 alone
    assert at(29) < 1e-3 * at(corner / 6)


def test_lips_and_breath_drift_each_by_itself():
    _, both = coherence(wander(LIPS), wander(BREATH), RATE / 10, nperseg=1 << 13)
    assert both[:60].mean() < 0.02  # to 35 Hz; 700 pieces: chance makes 0.0014


def test_seed_and_take_draw_another_drift_and_the_same_ones_the_same():
    first, *others = (
        wander(LIPS, *which, samples=RATE) for which in ((1, 1), (2, 1), (1, 2), (2, 2))
    )
    assert np.array_equal(first, wander(LIPS, 1, 1, samples=RATE))
    for other in others:
        assert abs(np.corrcoef(first, other)[0, 1]) < 0.4


@pytest.mark.parametrize("rate", [22_050, 48_000])
def test_a_drift_is_the_same_in_pieces_of_any_length(rate):
    whole = Wander(BREATH, 3, 1, rate).sampled(0, 40_000)
    assert np.abs(np.diff(whole)).max() < 0.01  # no step anywhere
    again, at = Wander(BREATH, 3, 1, rate), 0
    for count in (1, 239, 240, 241, 7_001, 32_278):
        np.testing.assert_array_equal(again.sampled(at, count), whole[at : at + count])
        at += count
    with pytest.raises(ValueError, match="sample 0: expected"):
        again.sampled(0, 10)


def test_a_machine_drifts_not_at_all_to_the_bit(tmp_path):
    plain, machine, nothing = (
        perform(scene(tmp_path, HELD + how, sound="length_s = 0.5"))
        for how in ("", 'steadiness = "machine"\ntake = 4\n', "steadiness = {}\n")
    )
    for other in (machine, nothing):
        for trace in fields(plain.played):
            name = trace.name
            np.testing.assert_array_equal(getattr(other.played, name), getattr(plain.played, name))


def test_a_drift_is_as_wide_as_the_scene_asks(tmp_path):
    how = "steadiness = { lip_drift_cents = 20, breath_drift_percent = 5 }\n"
    played = perform(scene(tmp_path, HELD + how, sound="length_s = 20"))
    # 60 independent values and more: within a quarter
    assert np.std(1200 * np.log2(played.tension / 330)) == pytest.approx(20, rel=0.25)
    assert np.std(played.mouth / 6000) == pytest.approx(0.05, rel=0.25)


def test_the_breath_is_never_drawn_in(tmp_path):
    how = "steadiness = { breath_drift_percent = 20 }\n"
    what = scene(tmp_path, HELD + how, sound="length_s = 0.2")
    drift = what.player.drift.model_copy(update={"breath_drift_percent": 90.0})
    breath, lips = np.full(20 * RATE, 6000.0), np.full(20 * RATE, 330.0)
    Unsteady(drift, 1, 1, RATE).lay_over(0, breath, lips)
    assert breath.min() == 0.0
    assert np.all(lips == 330.0)


def test_flutter_is_another_name_for_the_drift_of_the_breath(tmp_path):
    by_name, by_number = (
        perform(scene(tmp_path, HELD + how, sound="length_s = 0.4"))
        for how in ("flutter_percent = 3\n", "steadiness = { breath_drift_percent = 3 }\n")
    )
    np.testing.assert_array_equal(by_name.mouth, by_number.mouth)
    assert np.ptp(by_name.tension) == 0
    assert np.ptp(by_name.mouth) > 0


def test_notes_are_joined_and_set_as_without_a_drift(tmp_path):
    tune = 'tune = "C4 1, (D4 1, E4 1)"\npressure_kpa = 5\ntempo_bpm = 150\n'
    still, shaken, other = (
        perform(scene(tmp_path, tune + how))
        for how in ("", 'steadiness = "student"\n', 'steadiness = "student"\ntake = 2\n')
    )
    for one in (shaken, other):
        assert one.gesture.mouth == still.gesture.mouth
        assert one.gesture.tension == still.gesture.tension
        assert [n.join for n in one.gesture.notes] == [n.join for n in still.gesture.notes]
        assert not np.array_equal(one.mouth, still.mouth)
    assert not np.array_equal(shaken.tension, other.tension)


def test_a_long_run_drifts_as_a_short_one(tmp_path, monkeypatch):
    what = scene(tmp_path, HELD + 'steadiness = "student"\n', sound="length_s = 1.5")
    once = perform(what)
    short_memory(monkeypatch)
    assert len(once.mouth) > SHORT
    room = FileRoom(tmp_path)
    try:
        long = perform(what, room=room)
        np.testing.assert_array_equal(long.mouth[:], once.mouth)
        np.testing.assert_array_equal(long.tension[:], once.tension)
    finally:
        room.close()


def test_a_drifting_note_is_played_on_from_any_moment(tmp_path):
    what = scene(tmp_path, HELD + 'steadiness = "student"\n', sound="length_s = 0.6")
    played = perform(what)
    one, other = played.state_at(0.4), played.state_at(0.4)
    assert one.time == pytest.approx(0.4)
    np.testing.assert_array_equal(one.lip, other.lip)
