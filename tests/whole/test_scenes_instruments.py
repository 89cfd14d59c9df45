"""The scenes on instruments: valves, slide, pedal, bells, mutes and the air."""

import numpy as np
import parselmouth
import pytest
import soundfile
from support.music import cents

from lipmodel.bore.instruments import spec
from lipmodel.player.fingering import usual
from lipmodel.units import note_frequency, parse_note

LOCKED = 0.6


def heard(out, folder, start, end):
    """Median pitch (Hz) of a stretch of a rendered sound, by praat (autocorrelation)."""
    samples, rate = soundfile.read(out / folder / "sound.wav")
    part = samples[int(start * rate) : int(end * rate)]
    pitch = parselmouth.Sound(part, rate).to_pitch_ac(pitch_floor=50, pitch_ceiling=1000)
    found = pitch.selected_array["frequency"]
    return float(np.median(found[found > 0]))


def test_seven_lengths_play_one_partial_a_semitone_lower_each_time(played):
    notes = played("seven")["notes"]
    assert [n["valves"] for n in notes] == ["0", "2", "1", "12", "23", "13", "123"]
    assert {n["partial"] for n in notes} == {4}
    pitches = [n["frequency_hz"] for n in notes]
    # notes end within 3 cents of equal temperament
    np.testing.assert_allclose(-np.diff(1200 * np.log2(pitches)), 100, atol=6)
    resonances = [n["resonance_hz"] for n in notes]
    np.testing.assert_allclose(-np.diff(1200 * np.log2(resonances)), 100, atol=25)


def test_every_note_of_the_chromatic_octave_is_in_tune(played, out):
    """By an independent tracker, within 5 cents of what the notes say."""
    trumpet = spec("trumpet")
    notes = played("chromatic")["notes"]
    assert len(notes) == 13
    first = parse_note("C4") + trumpet.transposition_semitones
    for number, note in enumerate(notes):
        semitone = first + number
        assert note["valves"] == usual(trumpet, semitone).valves
        found = heard(out, "chromatic", note["start_s"] + 0.15, note["end_s"] - 0.05)
        assert abs(cents(found, note_frequency(semitone))) < 5


@pytest.mark.slow
def test_the_slide_glides_and_then_breaks(played):
    glide = played("glissando")
    assert [n["partial"] for n in glide["notes"]] == [4, 4, 3, 3, 2]
    # five positions down while the lips go along: four semitones
    time, pitch = (np.array(glide["pitch"][k], float) for k in ("time_s", "frequency_hz"))
    inside = (time > 1.0) & (time < 3.0)
    fall = cents(np.nanmax(pitch[inside]), np.nanmin(pitch[inside]))
    assert fall == pytest.approx(400, abs=40)
    broken = played("glissando-held-lips", "glissando")
    assert len(broken["jumps"]) == 1
    assert {n["partial"] for n in broken["notes"]} == {4, 5}


@pytest.mark.slow
def test_the_bugle_has_only_its_own_notes(played):
    report = played("bugle")
    assert {n["partial"] for n in report["notes"]} == {3, 4, 5, 6}
    assert all(n["lock"] > LOCKED for n in report["notes"] if n["lock"] is not None)


@pytest.mark.slow
def test_wider_horns_of_one_length_sound_alike_in_pitch(played):
    names = ("cousins", "cousins-cornet", "cousins-flugelhorn")
    reports = [played(name, "cousins") for name in names]
    for rows in zip(*(r["notes"] for r in reports), strict=True):
        pitches = [n["frequency_hz"] for n in rows]
        assert abs(cents(max(pitches), min(pitches))) < 6  # each within 3 cents
    assert [len(r["family"]) for r in reports[:1]] == [3]


@pytest.mark.slow
def test_a_deep_cup_is_darker(played):
    """Common practice, no published source."""
    usual_cup, deep = (played(n, "mouthpieces") for n in ("mouthpieces", "mouthpieces-deep-cup"))
    pairs = zip(usual_cup["notes"], deep["notes"], strict=True)
    assert sum(a["centroid_hz"] > b["centroid_hz"] for a, b in pairs) >= 5


@pytest.mark.slow
@pytest.mark.slow
def test_one_tune_locks_on_horns_and_hose_and_not_on_the_hailing_cone(played):
    names = ("one_tune", "one_tune-cornet", "one_tune-euphonium")
    for name in names:
        locks = [n["lock"] for n in played(name, "one_tune")["notes"]]
        assert np.median([v for v in locks if v is not None]) > LOCKED, name
    cone_of_card = played("one_tune-hailing-cone", "one_tune")["notes"]
    assert all(n["lock"] is None or n["lock"] < 0.35 for n in cone_of_card)
    for note, other in zip(cone_of_card, played("one_tune")["notes"], strict=True):
        assert abs(cents(note["frequency_hz"], other["frequency_hz"])) < 6


def test_the_pedal_stands_on_the_resonances_above(played, out):
    report = played("pedal")
    note = report["notes"][0]
    base = note_frequency(parse_note("Bb2"))
    assert abs(cents(note["frequency_hz"], base)) < 5
    assert cents(report["resonances"][0]["frequency_hz"], base) < -350  # as published
    support = {s["harmonic"]: s["supports"] for s in report["pedal"]["support"]}
    assert not support[1]
    assert all(support[n] for n in (2, 3, 4, 5, 6))
    # a pedal is a looser slot than the second partial
    assert note["lock"] < report["notes"][1]["lock"]
    assert (out / "pedal" / "pedal.png").stat().st_size > 20_000


@pytest.mark.slow
def test_a_wrong_bell_moves_the_notes(played, out):
    names = ("bells", "bells-no-bell", "bells-opens-early", "bells-opens-late")
    reports = {name: played(name, "bells") for name in names}
    second = {name: r["resonances"][1]["frequency_hz"] for name, r in reports.items()}
    # without its bell the tube is shorter: its second resonance is far above
    assert cents(second["bells-no-bell"], second["bells"]) > 500
    assert len(reports["bells"]["family"]) == 4
    assert (out / "bells" / "bores.png").stat().st_size > 20_000


@pytest.mark.slow
def test_mute_and_hand_lower_the_note_under_the_same_lips(played):
    plain, mute, hand = (played(n, "mute") for n in ("mute", "mute-mute", "mute-hand"))
    pitch = [r["notes"][0]["frequency_hz"] for r in (plain, mute, hand)]
    assert -100 < cents(pitch[1], pitch[0]) < -15
    assert -100 < cents(pitch[2], pitch[0]) < -10
    assert mute["changed"] == [
        "instrument.mute: none -> length_mm 160, small_diameter_mm 30, large_diameter_mm 100, "
        "cork_mm 3"
    ]


@pytest.mark.slow
def test_cold_air_is_flat_and_breath_a_little_sharp(played):
    warm, cold, breath = (
        played(n, "cold") for n in ("cold", "cold-10-degrees", "cold-warm-breath")
    )

    def fourth(report):
        return report["resonances"][3]["frequency_hz"]

    # 12 degrees at about 2.98 cents (600/(ln 2 T) at 16 degrees C), 3.1 with humidity
    assert cents(fourth(cold), fourth(warm)) == pytest.approx(-12 * 3.05, abs=2)
    assert 0 < cents(fourth(breath), fourth(warm)) < 40
    pitch = [r["notes"][0]["frequency_hz"] for r in (warm, cold, breath)]
    assert cents(pitch[1], pitch[0]) < -20


@pytest.mark.slow
@pytest.mark.slow
def test_the_cylinder_has_wide_steps_and_the_cone_even_ones(played):
    cylinder, cone = played("shapes"), played("shapes-all-cone", "shapes")
    ratios = [
        [r["frequency_hz"] / report["resonances"][0]["frequency_hz"] for r in report["resonances"]]
        for report in (cylinder, cone)
    ]
    np.testing.assert_allclose(ratios[0][:4], [1, 3, 5, 7], rtol=0.02)
    np.testing.assert_allclose(ratios[1][:4], [1, 2, 3, 4], rtol=0.03)
    assert [len(m["resonances_hz"]) > 4 for m in cylinder["family"]] == [True] * 5
