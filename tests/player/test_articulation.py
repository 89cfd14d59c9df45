"""Attack, release and vibrato, as asked for and as heard."""

import numpy as np
import parselmouth
import pytest
from support.scenes import scene

from lipmodel.errors import SceneError
from lipmodel.player.articulation import ATTACKS
from lipmodel.player.embouchure import SPEAKS
from lipmodel.player.performance import perform

RATE = 48_000


def pitch_track(pressure, first, stop, low=200, high=700):
    """Cents around their mean, every 5 ms, by an independent tool."""
    sound = parselmouth.Sound(pressure[int(first * RATE) : int(stop * RATE)], RATE)
    found = sound.to_pitch_ac(time_step=0.005, pitch_floor=low, pitch_ceiling=high)
    hz = found.selected_array["frequency"]
    hz = hz[hz > 0]
    return 1200 * np.log2(hz / np.exp(np.mean(np.log(hz))))


def strongest(track, step=0.005):
    """Rate in Hz and depth in cents of the strongest wave of a pitch track."""
    size = np.abs(np.fft.rfft(track * np.hanning(len(track)), 8192))
    at = int(np.argmax(size[20:])) + 20
    return at / (8192 * step), 2 * size[at] / np.hanning(len(track)).sum()


def test_nothing_is_expressed_unless_asked_for(tmp_path):
    player = scene(tmp_path, 'tune = "C5 1"').player
    assert (player.attack, player.vibrato, player.flutter_percent) == ("plain", None, 0.0)
    assert (player.steadiness, player.take) == ("machine", 1)


@pytest.mark.parametrize("attack", ATTACKS)
def test_the_breath_rises_as_the_attack_says(tmp_path, attack):
    played = perform(scene(tmp_path, f'tune = "C5 1"\nattack = "{attack}"\ndynamic = "mf"'))
    mouth = played.mouth
    full = mouth[RATE // 2]
    assert np.argmax(mouth >= 0.999 * full) / RATE == pytest.approx(ATTACKS[attack], rel=0.2)
    # a tongue lets go of more than the note needs: 15 %, common practice, no published source
    assert mouth.max() / full == pytest.approx(1.15 if attack == "tongued" else 1.0, abs=0.01)


def test_a_tongued_note_is_there_sooner_than_a_breathed_one(tmp_path):
    there = {}
    for attack in ATTACKS:
        played = perform(scene(tmp_path, f'tune = "C5 1"\nattack = "{attack}"'))
        wave = played.played.mouthpiece_pressure
        rms = np.sqrt(np.convolve(wave**2, np.ones(480) / 480, "same"))
        there[attack] = np.argmax(rms > 0.5 * rms[RATE // 3 : RATE // 2].mean()) / RATE
    # measured 0.020, 0.040 and 0.144 s
    assert there["tongued"] < there["plain"] < 0.5 * there["breath"]


def test_a_release_lasts_as_long_as_it_says(tmp_path):
    mouth = perform(scene(tmp_path, 'tune = "C5 1"\nrelease_ms = 120')).mouth
    full = mouth[RATE // 3]
    end = round(0.625 * RATE)  # a beat at 96 a minute
    assert mouth[end - int(0.13 * RATE)] == pytest.approx(full)
    assert mouth[end - int(0.06 * RATE)] == pytest.approx(full / 2, rel=0.01)


@pytest.mark.parametrize("by", ["lips", "slide"])
def test_a_vibrato_is_as_wide_and_fast_as_asked_for(tmp_path, by):
    wave = f'vibrato = {{ by = "{by}", rate_hz = 5.5, depth_cents = 20 }}'
    what = scene(tmp_path, f'tune = "C5 3"\n{wave}') if by == "lips" else on_slide(tmp_path, wave)
    rate, depth = strongest(pitch_track(perform(what).radiated_pressure, 0.5, 1.7))
    assert rate == pytest.approx(5.5, abs=0.4)
    # the column follows a quick wave less than a slow one: measured 19.3 and 18.6 cents
    assert depth == pytest.approx(20, rel=0.35)


def on_slide(tmp_path, wave, note="E4", position=2.1, name="trombone"):
    where = f'[[player.phrase]]\nnote = "{note}"\nlength_s = 2.0\nslide_position = {position}\n'
    return scene(tmp_path, where + wave, name)


def test_a_vibrato_of_the_breath_swings_the_loudness(tmp_path):
    played = perform(scene(tmp_path, 'tune = "C5 3"\nvibrato = { by = "breath" }'))
    mouth = played.mouth[RATE // 2 : RATE]
    assert np.ptp(mouth) / mouth.mean() == pytest.approx(0.2, rel=0.05)
    heard = played.radiated_pressure[RATE // 2 : int(1.5 * RATE)]
    rms = np.sqrt(np.convolve(heard**2, np.ones(960) / 960, "valid"))
    assert 20 * np.log10(rms.max() / rms.min()) > 1.0  # measured 4.3 dB


def test_a_slide_cannot_swing_further_in_than_its_end(tmp_path):
    what = on_slide(tmp_path, 'vibrato = { by = "slide" }', "Bb3", 1.0)
    with pytest.raises(SceneError, match=r"slide of 20 cents: expected slide_position = 1\.\d+"):
        perform(what)


@pytest.mark.parametrize(("name", "note"), [("trumpet", "C4"), ("trombone", "Bb3"),
                                            ("euphonium", "C4")])  # fmt: skip
def test_a_soft_note_is_blown_as_hard_as_it_needs(tmp_path, name, note):
    played = perform(scene(tmp_path, f'tune = "{note} 1.5"\ndynamic = "pp"', name))
    (planned,) = played.gesture.notes
    wave = played.played.mouthpiece_pressure
    assert wave[int(0.5 * RATE) : int(0.7 * RATE)].std() > SPEAKS * planned.pressure.first
    # still softer than the next marking but one
    mp = 1.7 * played.built.horn.lips.threshold_per_hz * planned.frequency
    assert planned.pressure.first < mp
