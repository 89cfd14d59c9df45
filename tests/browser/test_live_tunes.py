"""Tunes on the live page: note keys, valves, a slide, MIDI, and what is kept of them."""

import io
from itertools import pairwise

import numpy as np
import pytest
import soundfile
from support import browsing

from lipmodel.analysis.pitch import steady_pitch
from lipmodel.output.live import live_set
from lipmodel.player.build import build
from lipmodel.player.performance import perform
from lipmodel.player.tubing import lines_for
from lipmodel.scene.scene import read_scene
from lipmodel.waveguide.arrays import line_taps

pytestmark = pytest.mark.slow  # a browser: in CI, or on demand

browser = browsing.browser  # the same fixture
opened = browsing.watched
until = browsing.until
RATE = 48_000
ROW = "QWERTYUI"
SCALE = [58, 60, 62, 63, 65, 67, 69, 70]  # what C4 to C5, written for a trumpet, sound


def hertz(semitone):
    return 440.0 * 2 ** ((semitone - 69) / 12)


def cents(hz, semitone):
    return 1200 * np.log2(hz / hertz(semitone))


def heard_now(page):
    """Hz, as soon as a pitch is there."""
    until(page, "(window.told_hz = live.heard) > 0")
    return page.evaluate("told_hz")


def tune(page, keys, seconds=0.6):
    """Hold each key until the next one is down: slurs.  What is heard at the end of each."""
    heard = []
    for before, key in pairwise([None, *keys]):
        page.keyboard.down(key)
        if before:
            page.keyboard.up(before)
        page.wait_for_timeout(1000 * seconds)
        heard.append(heard_now(page))
    page.keyboard.up(keys[-1])
    return heard


def sound_of(page):
    """The kept gesture as the page itself makes it, and where its fingers' moves lie, s."""
    page.evaluate("() => { window.taken = kept(); taken.tube = state.tube; }")
    sound = np.array(page.evaluate("async () => Array.from(await soundOf(taken))"))
    return sound, [row[0] for row in page.evaluate("taken.fingers")]


def longest_gap(sound, first, last):
    """s in which the level is 20 dB and more under the middle one, from s to s."""
    step = RATE // 400
    part = sound[int(first * RATE) : int(last * RATE)]
    level = np.array([np.std(part[i : i + 2 * step]) for i in range(0, len(part) - 2 * step, step)])
    quiet = level < 0.1 * np.median(level)
    runs = np.diff(np.flatnonzero(np.diff(np.concatenate([[0], quiet, [0]]))))[::2]
    return max(runs, default=0) * step / RATE


def saved(page, name):
    page.evaluate("open(true)")
    with page.expect_download() as kept:
        page.click(f"#{name}")
    return kept.value.path().read_bytes()


@pytest.mark.parametrize("way", ["up", "down"])
def test_eight_notes_slurred_with_valves_are_in_tune_and_without_a_gap(browser, trumpet_page, way):
    step = 1 if way == "up" else -1
    keys, notes = [f"Key{k}" for k in ROW[::step]], SCALE[::step]
    with opened(browser, trumpet_page) as page:
        until(page, "live.ready")
        heard = tune(page, keys)
        sound, _ = sound_of(page)
        fingers = page.evaluate("taken.fingers.map((f) => f[1])")
        length = page.evaluate("taken.length")
    off = [cents(hz, s) for hz, s in zip(heard, notes, strict=True)]
    print([round(o, 1) for o in off])
    # asked for: 15; measured at most 3
    assert np.abs(off).max() < 15
    valves = ["0", "13", "12", "1", "0", "12", "2", "0"]
    assert fingers == [v for a, v in pairwise([None, *valves[::step]]) if v != a] or (
        fingers == valves[::step]
    )
    gap = longest_gap(sound, 0.15, length - 0.35)
    print(f"longest gap {1000 * gap:.1f} ms")
    assert gap < 0.03


def test_leaps_and_sharps_and_octaves_of_the_row(browser, trumpet_page):
    with opened(browser, trumpet_page) as page:
        until(page, "live.ready")
        heard = tune(page, ["KeyQ", "KeyI", "KeyT", "KeyE", "KeyQ"])
        for hz, semitone in zip(heard, (58, 70, 65, 62, 58), strict=True):
            assert abs(cents(hz, semitone)) < 15, semitone
        page.keyboard.press("KeyX")  # an octave higher
        # E to F: lips that came as they do out of rest would stay on the partial of the E
        for hz, semitone in zip(tune(page, ["KeyE", "KeyR"]), (74, 75), strict=True):
            assert abs(cents(hz, semitone)) < 15, semitone
        page.keyboard.down("Shift")
        page.keyboard.down("KeyQ")
        page.wait_for_timeout(700)
        assert abs(cents(heard_now(page), 71)) < 15
        page.keyboard.up("KeyQ")
        page.keyboard.up("Shift")
        until(page, "!state.blowing")


def test_notes_that_are_not_slurred_are_parted(browser, trumpet_page):
    with opened(browser, trumpet_page) as page:
        until(page, "live.ready")
        for key in ("KeyQ", "KeyW"):
            page.keyboard.down(key)
            page.wait_for_timeout(400)
            page.keyboard.up(key)
            page.wait_for_timeout(200)
        sound, _ = sound_of(page)
        length = page.evaluate("taken.length")
    assert longest_gap(sound, 0.15, length - 0.35) > 0.08


def test_what_is_kept_renders_to_the_same_notes_and_so_does_the_wav(
    browser, trumpet_page, tmp_path
):
    with opened(browser, trumpet_page) as page:
        until(page, "live.ready")
        heard = tune(page, [f"Key{k}" for k in "QERT"], 0.7)
        sound, moves = sound_of(page)
        text, wav = saved(page, "keep").decode(), saved(page, "wav")
    (tmp_path / "gesture.toml").write_text(text, encoding="utf-8")
    scene = read_scene(tmp_path / "gesture.toml")
    assert [v for _, v in scene.instrument.valve_moves] == ["12", "1", "0"]
    played = perform(scene).played.mouthpiece_pressure
    samples, rate = soundfile.read(io.BytesIO(wav))
    assert rate == RATE
    # 16 bits, and the page's own samples
    np.testing.assert_allclose(samples, sound[: len(samples)], atol=1 / 32000)
    ends = [*moves[1:], len(samples) / RATE - 0.5]
    for end, hz in zip(ends, heard, strict=True):
        part = slice(int((end - 0.25) * RATE), int((end - 0.02) * RATE))
        found, again = (steady_pitch(p[part], RATE) for p in (played, 1e3 * samples))
        assert abs(1200 * np.log2(found / hz)) < 5
        assert abs(1200 * np.log2(again / hz)) < 5


def test_two_minutes_of_a_restless_hand_are_kept_in_a_scene_that_can_be_read(
    browser, trumpet_page, tmp_path
):
    with opened(browser, trumpet_page) as page:
        until(page, "live.ready")
        page.keyboard.down("Space")
        until(page, "live.heard > 0")
        # the hand of an unquiet player 120 times a second, by a clock of its own
        begun = page.evaluate("""() => {
          const { graph } = live, clock = { at: graph.context.currentTime };
          const context = { get currentTime() { return clock.at; } };
          live.graph = Object.create(graph, { context: { value: context } });
          for (let i = 0; i < 130 * 120; i++) {
            clock.at += 1 / 120;
            set(300 + 100 * Math.sin(i / 50) + 5 * Math.sin(i), 6000 + 1000 * Math.sin(i / 70));
          }
          live.graph = graph;
          return clock.at - 130 - gesture.began;
        }""")
        page.keyboard.up("Space")
        text = saved(page, "keep").decode()
        told = page.text_content("#told")
    assert "two minutes" in told
    (tmp_path / "gesture.toml").write_text(text, encoding="utf-8")
    scene = read_scene(tmp_path / "gesture.toml")
    assert scene.sound.length_s == pytest.approx(120.3, abs=0.2)
    tension = np.array(scene.player.tension_hz)
    assert len(tension) <= 10_000
    i = np.arange(1000, 14_000)
    meant = 300 + 100 * np.sin(i / 50) + 5 * np.sin(i)
    # just before the next step it has long been taken, in 5 ms; measured 1.2 Hz, a third of a
    # percent, as 31 000 points of a hand that trembles are thinned to 10 000
    found = np.interp(begun + (i + 1.9) / 120, *tension.T)
    assert np.abs(found - meant).mean() < 2


def test_valves_by_their_keys_move_under_a_held_note(browser, trumpet_page):
    with opened(browser, trumpet_page) as page:
        until(page, "live.ready")
        page.evaluate("set(340, 6000)")
        page.keyboard.down("Space")
        page.wait_for_timeout(600)
        first = heard_now(page)
        page.keyboard.down("2")
        page.wait_for_timeout(400)
        second = heard_now(page)
        assert page.evaluate("state.valves") == "2"
        page.keyboard.up("2")
        page.click("#piston-1")  # a mouse sets it
        page.keyboard.up("Space")
        assert page.evaluate("state.valves") == "1"
        sound, _ = sound_of(page)
        length = page.evaluate("taken.length")
    # the tube is a semitone longer; the lips stay, and hold the note back
    assert -130 < 1200 * np.log2(second / first) < -40
    assert longest_gap(sound, 0.15, length - 0.35) < 0.03


MOCK = """() => {
  window.keyboard = { onmidimessage: null };
  navigator.requestMIDIAccess = async () => ({ inputs: new Map([["one", keyboard]]) });
}"""


def test_a_midi_instrument_plays(browser, trumpet_page):
    context = browser.new_context()
    page = context.new_page()
    page.add_init_script(f"({MOCK})()")
    page.goto(trumpet_page.as_uri())
    page.wait_for_selector("body[data-ready]")
    until(page, "live.ready")

    def send(*message):
        page.evaluate("(m) => keyboard.onmidimessage({ data: Uint8Array.from(m) })", message)

    def settled():
        page.wait_for_timeout(500)
        return heard_now(page)

    page.click("#more-open")
    page.click("#midi")
    until(page, "keyboard.onmidimessage !== null")
    assert "MIDI" in page.text_content("#told")
    send(0x90, 65, 100)
    page.wait_for_timeout(200)
    assert abs(cents(settled(), 65)) < 15
    send(0x90, 67, 100)
    send(0x80, 65, 0)
    assert abs(cents(settled(), 67)) < 15
    assert page.evaluate("state.valves") == "12"
    plain, tension = page.evaluate("[state.pressure, state.tension]")
    send(0xB0, 2, 96)  # breath
    assert page.evaluate("state.pressure") == pytest.approx(plain * 2**0.5, rel=1e-3)
    send(0xB0, 2, 64)
    assert page.evaluate("state.pressure") == pytest.approx(plain, rel=1e-3)
    straight = settled()
    send(0xE0, 0, 0)  # the wheel, all the way down
    assert page.evaluate("state.tension") == pytest.approx(tension * 2 ** (-300 / 1200), rel=1e-3)
    assert settled() < straight * 0.98
    send(0xE0, 0, 64)
    assert page.evaluate("state.tension") == pytest.approx(tension, rel=1e-3)
    send(0xB0, 64, 127)  # the pedal keeps the breath going
    send(0x90, 67, 0)
    assert page.evaluate("state.blowing")
    send(0xB0, 64, 0)
    assert not page.evaluate("state.blowing")
    send(0x90, 24, 100)  # no such note: nothing sounds, and it is said
    assert not page.evaluate("state.blowing")
    assert "does not play" in page.text_content("#told")
    context.close()


def test_without_midi_nothing_is_offered(browser, trumpet_page):
    context = browser.new_context()
    page = context.new_page()
    page.add_init_script("delete Navigator.prototype.requestMIDIAccess")
    page.goto(trumpet_page.as_uri())
    page.wait_for_selector("body[data-ready]")
    page.click("#more-open")
    assert page.is_hidden("#midi")
    context.close()


def test_a_slide_goes_anywhere_between_its_places(browser, trombone_page, tmp_path):
    folder = trombone_page.parent
    built = build(read_scene(folder / "trombone.toml"), held=True)
    with opened(browser, trombone_page) as page:
        until(page, "live.ready")
        for position in (1.0, 2.5, 3.3, 6.75):
            found = np.array(page.evaluate(f"slideTap({position})")).reshape(-1, 7)
            delays = lines_for(built, "0", slide_position=position)
            expected = line_taps(built.horn.ladder, delays)
            np.testing.assert_allclose(found[:, :2], expected[:, :2], rtol=1e-9)
            # shelves between those of whole places: measured 2e-3, of losses
            np.testing.assert_allclose(found[:, 2:], expected[:, 2:], rtol=5e-3, atol=1e-7)
        page.evaluate("set(212, 3000)")
        page.keyboard.down("Space")
        page.wait_for_timeout(700)
        first = heard_now(page)
        for _ in range(30):
            page.keyboard.press(".")
            page.wait_for_timeout(20)
        page.wait_for_timeout(700)
        second = heard_now(page)
        assert page.evaluate("state.position") == pytest.approx(2.5)
        page.keyboard.up("Space")
        sound, _ = sound_of(page)
        length = page.evaluate("taken.length")
        text = saved(page, "keep").decode()
    assert second < first * 2 ** (-80 / 1200)
    assert longest_gap(sound, 0.15, length - 0.35) < 0.03
    (tmp_path / "gesture.toml").write_text(text, encoding="utf-8")
    scene = read_scene(tmp_path / "gesture.toml")
    assert scene.instrument.slide_position[-1][1] == pytest.approx(2.5)
    played = perform(scene).played.mouthpiece_pressure
    end = int((length - 0.35) * RATE)
    found = steady_pitch(played[end - RATE // 4 : end], RATE)
    assert abs(1200 * np.log2(found / second)) < 5


def test_a_trombones_keys_move_its_slide(browser, trombone_page):
    with opened(browser, trombone_page) as page:
        until(page, "live.ready")
        first = page.evaluate("sounds.first")
        keys, steps = ["KeyQ", "KeyW", "KeyE", "KeyT"], (0, 2, 4, 7)
        heard = tune(page, keys, 0.8)
    for hz, step in zip(heard, steps, strict=True):
        assert abs(cents(hz, first + step)) < 15, step


FOUR = '[instrument]\nname = "{}"\n[player]\npressure_kpa = 3.0\ntension_hz = 150.0\n'


def test_a_fourth_valve_is_there_where_the_horn_has_one(browser, tmp_path, monkeypatch):
    from lipmodel.output.pages.live.page import live_page

    monkeypatch.setattr("lipmodel.output.live.VALVES", ("0", "4", "24"))
    (tmp_path / "four.toml").write_text(FOUR.format("euphonium"), encoding="utf-8")
    found = live_set(read_scene(tmp_path / "four.toml"), tubes=())
    page_file = tmp_path / "four.html"
    page_file.write_text(live_page("Four", found), encoding="utf-8")
    with opened(browser, page_file) as page:
        until(page, "live.ready")
        page.evaluate("set(220, 3000)")
        page.keyboard.down("Space")
        page.wait_for_timeout(600)
        open_note = heard_now(page)
        page.keyboard.down("4")
        page.keyboard.down("2")
        page.wait_for_timeout(600)
        assert page.evaluate("state.valves") == "24"
        assert page.evaluate("choice().label") == "24"
        assert heard_now(page) != pytest.approx(open_note, rel=0.01)
        page.keyboard.up("4")
        page.keyboard.up("2")
        page.keyboard.up("Space")
