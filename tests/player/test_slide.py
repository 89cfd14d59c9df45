"""The moving slide as it is played: columns, glides, hands that arrive in time."""

import numpy as np
import parselmouth
import pytest
from support.bores import SLIDE_BORE, slide_scene
from support.music import AIR, RATE, cents
from support.slides import SPEC, column, lips, phrase, played

from lipmodel.analysis.lock import continuation
from lipmodel.analysis.pitch import pitch, steady_pitch
from lipmodel.bore.valves import slide_length
from lipmodel.errors import SceneError
from lipmodel.player import performance
from lipmodel.player import slide as playing_slide
from lipmodel.player.build import build
from lipmodel.player.plan import plan, planned
from lipmodel.player.slide import phrase_motion, slide_line
from lipmodel.scene.scene import read_scene

GLIDE = [(0.3, 1.0), (1.8, 3.0)]  # s after the note's start, position


# as played


@pytest.fixture(scope="module")
def glide(tmp_path_factory):
    note = f'{{note = "Bb3", length_s = 2.2, slide_position = {[list(p) for p in GLIDE]}}}'
    return played(tmp_path_factory.mktemp("glide"), phrase(note))


def praat(signal):
    sound = parselmouth.Sound(signal / np.abs(signal).max(), RATE)
    found = sound.to_pitch_ac(time_step=0.01, pitch_floor=75, pitch_ceiling=600)
    return found.xs(), found.selected_array["frequency"]


@pytest.mark.parametrize("tracker", ["own", "praat"])
def test_a_glissando_follows_the_column(glide, tracker):
    pressure = glide.played.mouthpiece_pressure
    times, track = pitch(pressure, RATE) if tracker == "own" else praat(pressure)
    rest = np.interp(0.25, times, track) / column(1.0)
    at = np.arange(0.3, 2.05, 0.05)
    places = np.interp(at, *np.array(GLIDE).T)
    off = [
        cents(np.interp(t, times, track), rest * column(p)) for t, p in zip(at, places, strict=True)
    ]
    # the target is 15 cents; measured 2.1 (own) and 1.7 (praat-parselmouth), since breath over
    # threshold changes on the way
    assert np.abs(off).max() < 5
    # and it does move: two semitones, give or take the bell's end
    assert cents(np.interp(0.25, times, track), np.interp(2.0, times, track)) > 170


def test_a_slide_pulled_under_held_lips_breaks_to_another_partial(tmp_path):
    run = played(tmp_path, lips("[[0.5, 1], [3.5, 7]]", length=4, kpa="[[0, 0], [0.02, 5]]"))
    _, track = pitch(run.played.mouthpiece_pressure, RATE)
    known = track[np.isfinite(track)]
    # over 60 ms, in which the slide itself moves the pitch by 12 cents; measured 251
    jumps = np.abs(1200 * np.log2(known[6:] / known[:-6]))
    assert jumps.max() > 100


def test_a_moving_slide_that_stands_is_the_static_bore(tmp_path):
    still = played(tmp_path, lips("2.3"))
    moving = played(tmp_path, lips("[[0, 2.3]]"))
    pitches = [steady_pitch(p.played.mouthpiece_pressure[-12000:], RATE) for p in (still, moving)]
    # measured 0.07: a ladder fitted at position 1 and lengthened, read by interpolation
    assert abs(cents(*pitches)) < 0.5


def test_the_sound_has_no_zipper_noise(tmp_path, monkeypatch):
    # what leaves the bore above 16 kHz, in dB under all of it
    def high(run):
        wave = run.played.out_wave[int(0.5 * RATE) :]
        power = np.abs(np.fft.rfft(wave * np.kaiser(len(wave), 20))) ** 2
        return 10 * np.log10(
            power[np.fft.rfftfreq(len(wave), 1 / RATE) > 16_000].sum() / power.sum()
        )

    slow = lips("[[0.3, 2], [1.3, 2.3]]", length=1.3)
    still, moving = high(played(tmp_path, lips("2.15", length=1.3))), high(played(tmp_path, slow))
    whole = playing_slide.slide_line
    coarse = {
        "half samples": lambda added: np.round(2 * added) / 2,
        "every 64 samples": lambda added: added[np.arange(len(added)) // 64 * 64],
    }
    heard = {}
    for name, make in coarse.items():

        def stepped(built, motion, samples, room=None, make=make):
            slide, added = whole(built, motion, samples)
            return slide, make(added)

        monkeypatch.setattr(performance, "slide_line", stepped)
        heard[name] = high(played(tmp_path, slow))
    # measured: still -84.5, moving -84.7; in half samples -47.6, told every 64 samples -66.7
    assert moving < still + 1
    assert min(heard.values()) > moving + 12


def test_between_notes_the_slide_arrives_in_time_and_no_hand_is_too_fast(tmp_path):
    held = (("Bb3", 1), ("E3", 7), ("F3", 1))
    notes = [f'{{note = "{n}", length_s = 0.5, slide_position = {p}}}' for n, p in held]
    built = build(read_scene(slide_scene(tmp_path, phrase(*notes))))
    motion = plan(built).slide
    for time, place in ((0.0, 1.0), (0.25, 1.0), (0.5, 7.0), (0.75, 7.0), (1.0, 1.0), (1.5, 1.0)):
        assert motion.position_at(time) == pytest.approx(place, abs=1e-9)
    moving = np.diff(motion.time) > 1e-9
    speed = 0.5 * np.abs(np.diff(motion.tube))[moving] / np.diff(motion.time)[moving]
    assert 3 < speed.max() < 5  # m/s of slide


def test_a_slide_that_has_no_time_arrives_late_and_not_too_fast(tmp_path):
    last = '{note = "Bb3", length_s = 1, slide_position = 1}'
    quick = [f'{{note = "Bb3", length_s = 0.06, slide_position = {p}}}' for p in (1, 7, 1, 7, 2)]
    scene = read_scene(slide_scene(tmp_path, phrase(*quick, last)))
    built = build(scene)
    notes = [planned(built, note) for note in scene.phrase()]
    motion = phrase_motion(built, notes)
    assert np.all(np.diff(motion.time) >= 0)
    moving = np.diff(motion.time) > 1e-9
    speed = 0.5 * np.abs(np.diff(motion.tube))[moving] / np.diff(motion.time)[moving]
    assert speed.max() < 5
    assert motion.position_at(1.2) == pytest.approx(1.0)


def test_the_added_samples_have_no_corners(tmp_path):
    path = slide_scene(tmp_path, lips("[[0.1, 1], [0.4, 4], [0.5, 2]]", length=0.7))
    built = build(read_scene(path))
    slide, added = slide_line(built, plan(built).slide, int(0.7 * RATE))
    # the speed goes from +0.005 to -0.011 samples a sample within 20 ms and not at once; at a sharp
    # corner the second difference would be as large as that
    assert np.abs(np.diff(added)).max() > 0.01
    assert np.abs(np.diff(added, 2)).max() < 1e-4
    assert added.max() == slide.longest
    # the ends are held, and the middle of a straight way is where it was told to be
    assert added[0] == pytest.approx(0.0, abs=1e-9)
    tube = slide_length(SPEC, 2.5, built.bore.length)
    assert added[int(0.25 * RATE)] == pytest.approx(tube / AIR.sound_speed * RATE, abs=0.02)


def test_a_phrase_at_one_position_is_played_without_a_moving_line(tmp_path):
    built = build(
        read_scene(slide_scene(tmp_path, "slide_position = 3\n" + phrase('{note="Ab3"}')))
    )
    gesture = plan(built)
    assert gesture.slide is None
    speed, length = AIR.sound_speed, built.bore.length
    ladder = built.horn.ladder
    added = slide_length(SPEC, 3.0, length) / speed * RATE
    expected = ladder.delay[ladder.line_cell] + added
    np.testing.assert_allclose(gesture.first_lines, expected, rtol=1e-12)


def test_a_run_goes_on_in_the_middle_of_a_move(glide):
    rate, at = glide.built.rate, int(1.1 * RATE)
    state = glide.state_at(1.1)
    assert state.added == pytest.approx(glide.controls.added[at - 1])
    rest = performance.run_blocks(glide.built, glide.gesture, state, glide.controls, at, at + 4800)
    again = np.concatenate([p.mouthpiece_pressure for p in rest])
    np.testing.assert_array_equal(again, glide.played.mouthpiece_pressure[at : at + 4800])
    # and held where it is, it plays what the column has there
    state = glide.state_at(1.1)
    mouth, tension = glide.mouth[at], float(glide.tension[at])
    stay = continuation(glide.built.horn, state, mouth, tension, glide.lines_at(1.1), 0.5)
    place = np.interp(1.1, *np.array(GLIDE).T)
    now = steady_pitch(stay[-int(0.2 * rate) :], rate)
    first = steady_pitch(glide.played.mouthpiece_pressure[int(0.15 * RATE) : int(0.3 * RATE)], rate)
    # measured 0.8 cents: less breath over threshold here
    assert cents(now / column(place), first / column(1.0)) == pytest.approx(0, abs=4)


def test_a_slide_too_short_for_a_position_is_told(tmp_path):
    path = slide_scene(tmp_path, phrase('{note = "Bb3"}', '{note = "E3", slide_position = 7}'))
    short = SLIDE_BORE.replace("fundamental", "slide_travel_mm = 400\nfundamental")
    (tmp_path / "slide.toml").write_text(short, encoding="utf-8")
    with pytest.raises(SceneError, match=r"scene.toml: slide position 7 needs .* mm of slide"):
        plan(build(read_scene(path)))
