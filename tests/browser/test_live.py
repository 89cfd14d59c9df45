"""The live horn in a browser: the same physics, in time, under the hand, and safe."""

import json
import time
from dataclasses import asdict, replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from scipy.signal import butter, sosfiltfilt
from support import browsing

from lipmodel.analysis.pitch import steady_pitch
from lipmodel.mouth import Mouth
from lipmodel.output.live import RATES, live_set
from lipmodel.output.live_loops import loop_of, player_of
from lipmodel.output.pages.live.page import HERE, live_page
from lipmodel.player.build import build
from lipmodel.player.joins import VALVE_TRAVEL
from lipmodel.player.performance import perform
from lipmodel.player.slide import TRAVEL
from lipmodel.player.tubing import lines_for
from lipmodel.scene.scene import read_scene
from lipmodel.studies.slots import slots
from lipmodel.waveguide.arrays import line_taps
from lipmodel.waveguide.state import Block, start
from lipmodel.waveguide.time_loop import advance, play

pytestmark = pytest.mark.slow  # a browser: in CI, or on demand

browser = browsing.browser  # the same fixture
opened = browsing.watched
RATE = 48_000
SCENE = '[instrument]\nname = "{}"\n{}[player]\npressure_kpa = 8.0\ntension_hz = 420.0\n{}'
LIMIT = 0.5  # of full scale: what the page promises (CEILING in audio.js)


def scene(folder, name="trumpet", more="", last=""):
    path = Path(folder) / "class.toml"
    path.write_text(SCENE.format(name, more, last), encoding="utf-8")
    return read_scene(path)


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """The page of the trumpet in a folder with a space and an accent in its name."""
    folder = tmp_path_factory.mktemp("live") / "brass class, péniche"
    folder.mkdir()
    what = scene(folder, last="[air]\ntemperature_c = 18.0\n[sound]\ndistance_m = 2.0\n")
    few = pytest.MonkeyPatch()  # a few of the page's tubes: each costs a second
    few.setattr("lipmodel.output.live.VALVES", ("0", "13"))
    few.setattr("lipmodel.output.live.TUBES", ("hailing_cone",))
    found = live_set(what)
    few.undo()
    title = 'Wednesday <script>alert("x")</script> & 🎺'
    page = folder / "the live horn.html"
    page.write_text(live_page(title, found), encoding="utf-8")
    return page, found, what


def until(page, what, seconds=10.0):
    """Wait until an expression holds; the page's policy forbids the browser's own way of it."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if page.evaluate(f"() => Boolean({what})"):
            return
        time.sleep(0.05)
    raise AssertionError(f"not within {seconds:g} s: {what}; told: {page.text_content('#told')}")


@pytest.fixture(scope="module")
def bench(browser):
    """A page with the loop alone."""
    page = browser.new_page()
    page.set_content("<p>loop</p>")
    page.add_script_tag(content=(HERE / "time_loop.js").read_text("utf-8"))
    yield page
    page.close()


RUN = """([loop, lips, mouth, tension, moves, air, resonance]) => {
  const h = makeHorn(loop, lips, air), out = new Float64Array(mouth.length);
  const up = Float64Array.from(loop.tap);
  const began = performance.now();
  playThrough(h, mouth, tension, out, null, moves, resonance);
  const plain = performance.now() - began;
  const sound = new Float64Array(mouth.length);
  rest(h); setTap(h, up);
  const again = performance.now();
  playThrough(h, mouth, tension, out, sound, moves, resonance);
  return [Array.from(out), Array.from(sound), plain, performance.now() - again];
}"""


def in_browser(bench, built, mouth, tension, moves=(), resonance=None):
    """`moves`: (sample, delays of the lines, samples of the way) of valves; `resonance`: Hz, of
    the horn's mouth."""
    lips, ladder = player_of(built.horn.lips), built.horn.ladder
    loop, ways = (
        loop_of(built),
        [[at, line_taps(ladder, d).ravel().tolist(), n] for at, d, n in moves],
    )
    longest = max((float(np.max(d)) for _, d, _ in moves), default=0.0)
    loop["buffer_size"] = max(loop["buffer_size"], 1 << int(np.ceil(np.log2(longest + 4))))
    led = None if resonance is None else resonance.tolist()
    out, sound, plain, whole = bench.evaluate(
        RUN,
        [loop, lips, mouth.tolist(), tension.tolist(), ways, air_of(built.horn.mouth), led],
    )
    return np.array(out), np.array(sound), plain / 1e3, whole / 1e3


def air_of(mouth):
    return mouth and {k: v for k, v in asdict(mouth).items() if k != "resonance"}


def breath(pascal, seconds=1.0):
    return pascal * np.minimum(np.arange(int(seconds * RATE)) / (0.02 * RATE), 1)


FIRM = "[lips]\nfirmness = true\n"
CASES = {  # instrument, keys, lips, breath in Pa, lip setting in Hz from and to
    "a note": ("trumpet", "", "", 8e3, (420.0, 420.0)),
    "across three partials": ("trumpet", "", "", 9e3, (210.0, 480.0)),
    "valves": ("trumpet", 'valves = "13"\n', "", 7e3, (230.0, 240.0)),
    "swing": ("trumpet", "", '[lips]\nmotion = "swing"\n', 9e3, (380.0, 380.0)),
    "lift": ("trumpet", "", '[lips]\nmotion = "lift"\n', 8e3, (440.0, 420.0)),
    "a hailing cone": ("hailing_cone", "", "", 9e3, (300.0, 330.0)),
    "a slide": ("trombone", "slide_position = 4.0\n", "", 4e3, (190.0, 195.0)),
    "firm lips": ("trumpet", "", FIRM, 14e3, (300.0, 480.0)),
    "firm lips that swing": ("trumpet", "", FIRM + 'motion = "swing"\n', 14e3, (380.0, 380.0)),
    "firm large lips": ("trombone", "", FIRM, 9e3, (190.0, 190.0)),
}


@pytest.mark.parametrize("case", CASES)
def test_the_browser_plays_what_the_compiled_loop_plays(bench, tmp_path, case):
    name, more, last, mouth, (low, high) = CASES[case]
    built = build(scene(tmp_path, name, more, last))
    mouth, tension = breath(mouth), np.geomspace(low, high, RATE)
    expected = play(built.horn, mouth, tension).mouthpiece_pressure
    found = in_browser(bench, built, mouth, tension)[0]
    assert np.abs(expected).max() > 500  # a note sounds
    # asked for: 1e-6 until the first jump; measured 5e-14 through three partials
    assert np.abs(found - expected).max() < 1e-9 * np.abs(expected).max()
    pitches = [steady_pitch(p[-12_000:], RATE) for p in (found, expected)]
    assert pitches[0] == pytest.approx(pitches[1], rel=5e-5, nan_ok=True)  # 0.1 cent


MOUTHS = {  # the air upstream, lips, motion, firm
    "peak and quality": (Mouth(750.0), (440.0, 440.0), "both", False),
    "cavity and glottis": (Mouth(500.0, None, 1e-10, None, 4e5), (300.0, 480.0), "both", True),
    # at 420 Hz these growl without a period, and rounding grows to 2e-5 of the peak in a second
    "peak and glottis": (Mouth(500.0, 1e7, None, None, 4e5), (440.0, 440.0), "lift", False),
    "cavity and quality": (Mouth(300.0, None, 4e-10, 20.0), (440.0, 440.0), "swing", False),
}


@pytest.mark.parametrize("tongue", ["still", "moving"])
@pytest.mark.parametrize("case", MOUTHS)
def test_the_browsers_mouth_is_the_compiled_loops_own(bench, tmp_path, case, tongue):
    mouth, (low, high), motion, firm = MOUTHS[case]
    built = build(scene(tmp_path))
    lips = replace(built.horn.lips, motion=motion, firm=firm)
    built = replace(built, horn=replace(built.horn, mouth=mouth, lips=lips))
    lungs, tension = breath(12e3), np.geomspace(low, high, RATE)
    resonance = np.full(RATE, mouth.resonance)
    if tongue == "moving":
        resonance = 500.0 + 300.0 * np.sin(2 * np.pi * 1.5 * np.arange(RATE) / RATE)
    block = Block(lungs, tension, resonance=resonance)
    expected = advance(built.horn, start(built.horn), block).mouthpiece_pressure
    found = in_browser(bench, built, lungs, tension, resonance=resonance)[0]
    assert np.std(expected[RATE // 2 :]) > 500  # a note sounds
    # asked for: 1e-6; measured at most 2e-11
    assert np.abs(found - expected).max() < 1e-9 * np.abs(expected).max()
    plain = replace(built.horn, mouth=None)
    other = play(plain, lungs, tension).mouthpiece_pressure
    assert np.abs(other - expected).max() > 0.05 * np.abs(expected).max()  # and the mouth is there


def test_firm_lips_play_another_note_than_lips_that_stay_as_they_are(bench, tmp_path):
    name, more, last, mouth, (low, high) = CASES["firm lips"]
    mouth, tension = breath(mouth), np.geomspace(low, high, RATE)
    firm, plain = (
        in_browser(bench, build(scene(tmp_path, name, more, words)), mouth, tension)[0]
        for words in (last, "")
    )
    assert np.abs(firm - plain).max() > 0.1 * np.abs(plain).max()


VALVED = {  # instrument, lips in Hz, breath in Pa, valves or positions one after another
    "trumpet": (420.0, 8e3, ("2", "12", "0", "123", "13")),
    "horn": (300.0, 7e3, ("2", "1", "12", "0")),
    "tuba": (105.0, 2.5e3, ("2", "12", "0")),
    "trombone": (204.0, 4e3, (2.0, 4.0, 1.0, 6.0)),
}
APART, FIRST = 0.3, 0.4  # s between two moves, and before the first


def with_moves(built, name):
    """Breath, lips and moves of a case of VALVED, and what the compiled loop plays of it."""
    setting, pascal, places = VALVED[name]
    seconds = FIRST + APART * len(places)
    mouth, tension = breath(pascal, seconds), np.full(int(seconds * RATE), setting)
    way = round((TRAVEL if name == "trombone" else VALVE_TRAVEL) * RATE)
    moves = []
    for number, place in enumerate(places):
        held = ("0", 0.0, 0.0, place) if name == "trombone" else (place, 0.0, 0.0, 1.0)
        moves.append((round((FIRST + APART * number) * RATE), lines_for(built, *held), way))
    state, pieces, now = start(built.horn), [], lines_for(built, "0")
    edges = [0, *(e for at, _, n in moves for e in (at, at + n)), len(mouth)]
    for number, (a, b) in enumerate(pairwise(edges)):
        how = {"lines_from": now}
        if number % 2:
            _, to, _ = moves[number // 2]
            how |= {"mix": np.arange(b - a) / way, "lines_to": to, "travel": way}
        pieces.append(advance(built.horn, state, Block(mouth[a:b], tension[a:b], **how)))
        now = how.get("lines_to", now)
    expected = np.concatenate([p.mouthpiece_pressure for p in pieces])
    return mouth, tension, moves, expected


@pytest.mark.parametrize("name", VALVED)
def test_valves_on_their_way_are_the_compiled_loops_own(bench, tmp_path, name):
    built = build(scene(tmp_path, name))
    mouth, tension, moves, expected = with_moves(built, name)
    found, sound, *_ = in_browser(bench, built, mouth, tension, moves)
    assert np.abs(expected).max() > 300  # a note sounds
    # asked for: 1e-6; measured 2e-14 to 2e-13, and 3e-10 where a tap begins without its memory
    assert np.abs(found - expected).max() < 1e-11 * np.abs(expected).max()
    # nothing is heard of them but the notes: as tests/player/test_valves.py measures it
    bright = sosfiltfilt(butter(6, 5000.0, "high", fs=RATE, output="sos"), sound)
    notes = np.ones(len(sound), bool)
    notes[: int(0.1 * RATE)] = False
    spans = [slice(at, at + n + int(0.02 * RATE)) for at, _, n in moves]
    for span in spans:
        notes[span] = False
    for heard, most in ((sound, 1.0), (bright, 12.0)):
        peaks = [np.abs(heard[span]).max() / np.abs(heard[notes]).max() for span in spans]
        # measured at most -0.0 dB and -0.1 dB
        assert 20 * np.log10(max(peaks)) <= most


def test_a_valve_that_is_moved_too_soon_waits_for_the_one_before(bench, tmp_path):
    built = build(scene(tmp_path))
    mouth, tension = breath(8e3, 0.6), np.full(round(0.6 * RATE), 420.0)
    way = round(VALVE_TRAVEL * RATE)
    first, then = (lines_for(built, valves) for valves in ("2", "12"))
    begun = 20_000
    after = [(begun, first, way), (begun + way, then, way)]
    soon = [(begun, first, way), (begun + 300, then, way)]
    one, other = (in_browser(bench, built, mouth, tension, moves)[0] for moves in (after, soon))
    still = in_browser(bench, built, mouth, tension, after[:1])[0]
    np.testing.assert_allclose(other, one, rtol=0, atol=1e-9)
    assert np.abs(other - still).max() > 100


def test_what_is_heard_is_what_the_listener_hears(bench, tmp_path):
    from lipmodel.sound.listener import radiated

    built = build(scene(tmp_path))
    mouth, tension = breath(8e3, 0.5), np.full(RATE // 2, 420.0)
    played = play(built.horn, mouth, tension)
    response = built.radiation_filter
    expected = radiated(
        played.out_wave, played.back_wave, built.horn.ladder.admittance[-1], response
    )
    sound = in_browser(bench, built, mouth, tension)[1]
    # the filter is cut at 512 of 4096 samples
    error = np.std(sound[6000:] - expected[6000:]) / np.std(expected[6000:])
    assert 20 * np.log10(error) < -70


@pytest.mark.benchmark
def test_it_costs_less_than_a_third_of_the_time_there_is(bench, tmp_path):
    built = build(scene(tmp_path))
    mouth, tension = breath(8e3), np.full(RATE, 420.0)
    # the best of five, since other tests run beside; measured 0.05 and 0.09 s a second
    costs = [in_browser(bench, built, mouth, tension)[2:] for _ in range(5)]
    plain, whole = (min(c) for c in zip(*costs, strict=True))
    print(f"a second of trumpet: loop {plain:.3f} s, with what is heard {whole:.3f} s")
    assert whole < 1 / 3


STAIRS = """async ([tension, pressure, seconds]) => {
  const rate = data.rates[0], context = new OfflineAudioContext(2, seconds * rate, rate);
  const graph = await makeGraph(context, 0);
  graph.volume.disconnect();
  const both = context.createChannelMerger(2);
  graph.node.connect(both, 0, 0); graph.node.connect(both, 1, 1);
  both.connect(context.destination);
  graph.pressure.setValueAtTime(pressure, 0);
  graph.tension.setValueCurveAtTime(Float32Array.from(tension), 0, seconds);
  const began = performance.now();
  const made = await context.startRendering();
  const took = performance.now() - began;
  return [Array.from(made.getChannelData(0)), Array.from(made.getChannelData(1)), took];
}"""


@pytest.mark.slow
def test_a_slow_sweep_walks_the_staircase_of_the_slots(browser, made):
    found = slots(build(made[2]))
    rows = {r["partial"]: r for r in found.up_rows}
    low, high, seconds = 150.0, 700.0, 15.7  # about 170 cents a second, as `slots` sweeps
    setting = np.geomspace(low, high, 4000)
    with opened(browser, made[0]) as page:
        sound, inside, took = page.evaluate(STAIRS, [setting.tolist(), 8e3, seconds])
    inside, sound = 1e5 * np.array(inside), np.array(sound)  # Pa
    assert np.all(np.isfinite(sound))
    assert np.abs(sound).max() <= LIMIT + 1e-6
    print(f"worklet: {took / 1e3 / seconds:.3f} s a second")
    assert took / 1e3 < seconds / 3 * 2  # other tests run beside; measured 0.08 to 0.16
    seen = []
    for n in (2, 3, 4, 5):
        row = rows[n]
        # where the middle of the slot is passed
        at = int(np.log(row["centre_tension_hz"] / low) / np.log(high / low) * seconds * RATE)
        hz = steady_pitch(inside[at - 2400 : at + 2400], RATE)
        seen.append(1200 * np.log2(hz / row["playing_hz"]))
    # the same slots within 5 cents
    assert np.abs(seen).max() < 5


GESTURES = """async ([seconds, seed]) => {
  let state = seed;
  const next = () => { state = (state * 1103515245 + 12345) % 2147483648; return state; };
  const random = () => next() / 2147483648;
  let most = 0, odd = 0;
  const rate = data.rates[0], piece = 10;
  for (let done = 0; done < seconds; done += piece) {
    const context = new OfflineAudioContext(1, piece * rate, rate);
    const graph = await makeGraph(context, 0);
    graph.volume.gain.value = 1;
    for (let t = 0.2; t < piece; t += 0.05 + 0.4 * random()) {
      graph.tension.setValueAtTime(20 + 1980 * random() ** 2, t);
      graph.pressure.setValueAtTime(random() < 0.2 ? 0 : 25000 * random(), t);
      graph.resonance.setValueAtTime(100 + 1900 * random(), t);
      if (random() < 0.5) {
        const tube = Math.floor(data.choices.length * random());
        const motion = ["both", "swing", "lift"][Math.floor(3 * random())];
        const change = random() < 0.5 ? { firm: random() < 0.5 } : { mouth: random() < 0.5 };
        context.suspend(Math.floor(t * rate / 128) * 128 / rate).then(() => {
          const what = [{ motion }, { tube }, change][Math.floor(3 * random())];
          graph.node.port.postMessage(what);
          context.resume();
        });
      }
    }
    const made = (await context.startRendering()).getChannelData(0);
    for (let i = 0; i < made.length; i++) {
      if (!(made[i] === made[i])) odd++;
      most = Math.max(most, Math.abs(made[i]));
    }
  }
  return [most, odd];
}"""


@pytest.mark.parametrize("seconds", [10, pytest.param(600, marks=pytest.mark.long)])
def test_nothing_wild_comes_out_whatever_the_hand_does(browser, made, seconds):
    with opened(browser, made[0]) as page:
        page.set_default_timeout(900_000)
        most, odd = page.evaluate(GESTURES, [seconds, 7])
    assert odd == 0
    assert 0.01 < most <= LIMIT + 1e-6


SWITCH = """async (change) => {
  const rate = data.rates[0], context = new OfflineAudioContext(1, 1.2 * rate, rate);
  const graph = await makeGraph(context, 0);
  graph.volume.gain.value = 1;
  graph.tension.setValueAtTime(420, 0); graph.pressure.setValueAtTime(8000, 0);
  const at = Math.round(0.6 * rate / 128) * 128 / rate;
  context.suspend(at).then(() => { graph.node.port.postMessage(change); context.resume(); });
  return Array.from((await context.startRendering()).getChannelData(0));
}"""


OTHER_PLAYERS = {"firm": True}, {"mouth": True}


@pytest.mark.parametrize(
    "change",
    [{"tube": 1}, {"tube": 2}, {"motion": "swing"}, {"motion": "lift"}, *OTHER_PLAYERS],
)
def test_a_switch_does_not_click(browser, made, change):
    with opened(browser, made[0]) as page:
        sound = np.array(page.evaluate(SWITCH, change))
    step = np.abs(np.diff(sound))
    steady = step[int(0.4 * RATE) : int(0.55 * RATE)].max()
    # a step of the sound itself is the measure
    assert step[int(0.58 * RATE) : int(0.75 * RATE)].max() < 1.5 * steady
    if "tube" in change:
        assert np.std(sound[int(1.0 * RATE) :]) > 1e-3  # the other tube sounds


LATENCY = """async () => {
  const rate = data.rates[0];
  const made = [];
  for (const change of [false, true]) {
    const context = new OfflineAudioContext(1, 0.7 * rate, rate);
    const graph = await makeGraph(context, 0);
    graph.volume.gain.value = 1;
    graph.tension.setValueAtTime(420, 0); graph.pressure.setValueAtTime(8000, 0);
    if (change) graph.tension.setValueAtTime(520, 0.5);
    made.push((await context.startRendering()).getChannelData(0));
  }
  let first = -1;
  for (let i = 0; i < made[0].length; i++) if (made[0][i] !== made[1][i]) { first = i; break; }
  return first - 0.5 * rate;
}"""


def test_a_change_of_the_lips_is_in_the_sound_within_two_quanta_and_the_tubes_own_way(
    browser, made
):
    with opened(browser, made[0]) as page:
        late = page.evaluate(LATENCY)
    # the tube's own delay from lips to bell: 1.4 m, 4 ms, 195 samples
    assert 0 <= late < 2 * 128 + 210


PLAYED = {  # breath in Pa, firm lips, where the mouth is
    "lips alone": (8000, False, None),
    "firm lips": (14_000, True, None),
    "firm lips and a mouth": (14_000, True, 700),
}


@pytest.mark.parametrize("case", PLAYED)
def test_it_is_played_by_keys_alone_and_kept_as_a_scene(browser, made, tmp_path, case):
    pascal, firm, led = PLAYED[case]
    with opened(browser, made[0]) as page:
        page.evaluate("([firm, led]) => { plays({ firm, led: led > 0 }); lead(led || 500); }",
                      [firm, led])  # fmt: skip
        page.focus("#start")
        page.keyboard.press("Enter")
        until(page, "live.graph && live.graph.context.currentTime > 0.1")
        page.evaluate(f"set(420, {pascal})")
        page.focus("#field")
        page.keyboard.down(" ")
        time.sleep(0.9)
        for _ in range(30):
            page.keyboard.press("ArrowRight")
            time.sleep(0.02)
        time.sleep(0.5)
        heard = page.evaluate("live.heard")
        named = page.text_content("#read-note")
        page.keyboard.up(" ")
        time.sleep(0.2)
        text = kept_scene(page)
    assert heard
    assert named
    path = tmp_path / "gesture.toml"
    path.write_text(text, encoding="utf-8")
    kept = read_scene(path)
    # what else the scene says goes along
    assert (kept.air.temperature_c, kept.sound.distance_m) == (18.0, 2.0)
    assert not kept.sound.steepening
    found = last_pitch(kept, pascal)
    if firm:  # measured 318 (another partial) and 18 cents
        plain = last_pitch(kept.replace({"lips.firmness": False}), pascal)
        assert abs(1200 * np.log2(plain / heard)) > 10
    # rendered in full it is what was heard; the page's own pitch is good to some 3 cents
    assert abs(1200 * np.log2(found / heard)) < 5


def kept_scene(page) -> str:
    """The text of the gesture that is saved, with the panel for it opened."""
    if page.is_hidden("#more"):
        page.click("#more-open")
    with page.expect_download() as kept:
        page.click("#keep")
    return Path(kept.value.path()).read_text("utf-8")


def last_pitch(scene, pascal) -> float:
    """Hz, before the breath ends."""
    played = perform(scene)
    last = int(np.flatnonzero(played.mouth > 0.98 * pascal)[-1])
    return steady_pitch(played.played.mouthpiece_pressure[last - 12_000 : last - 1000], RATE)


WITH_MOUTH = """async ([seconds, from, to]) => {
  const rate = data.rates[0], context = new OfflineAudioContext(2, seconds * rate, rate);
  const graph = await makeGraph(context, 0);
  const both = context.createChannelMerger(2);
  graph.node.connect(both, 1, 0);
  both.connect(context.destination);
  graph.volume.disconnect();
  context.suspend(0).then(() => {
    graph.node.port.postMessage({ mouth: from !== null, firm: false });
    setTimeout(() => context.resume(), 100); // read before the first sample
  });
  graph.tension.setValueAtTime(820, 0); graph.pressure.setValueAtTime(12000, 0);
  const way = Float32Array.from([from, from, to, to]);
  if (from !== null) graph.resonance.setValueCurveAtTime(way, 0, seconds);
  return Array.from((await context.startRendering()).getChannelData(0));
}"""


@pytest.mark.parametrize(("led", "rises"), [((400.0, 850.0), True), ((None, 0), False)])
def test_the_mouth_alone_carries_the_note_over_on_the_page_too(browser, made, led, rises):
    # as in scenes/tongue.toml, nearer the edge of the slot, which lies at 835 Hz here
    with opened(browser, made[0]) as page:
        inside = 1e5 * np.array(page.evaluate(WITH_MOUTH, [4.5, *led]))  # Pa
    early, late = (
        steady_pitch(inside[int(a * RATE) : int((a + 0.3) * RATE)], RATE) for a in (1.0, 4.0)
    )
    found = 1200 * np.log2(late / early)
    # measured 190 and 0.0
    assert found > 100 if rises else abs(found) < 5


def test_the_third_hand_moves_by_wheel_slider_keys_and_a_second_finger(browser, made, tmp_path):
    with opened(browser, made[0]) as page:
        hz = "state.resonance"
        page.click("#more-open")
        assert not page.is_checked("#led")
        assert not page.is_checked("#firm")
        assert page.is_disabled("#resonance")
        page.hover("#field")
        was = page.evaluate(hz)
        page.mouse.wheel(0, 200)  # off: it is not the mouth's
        page.wait_for_timeout(100)
        assert page.evaluate(hz) == was
        page.check("#led")
        page.hover("#field")
        page.mouse.wheel(0, -300)
        until(page, f"{hz} > {was}")
        assert page.evaluate(hz) == pytest.approx(was * 2 ** (3 / 8))
        page.focus("#resonance")
        before = page.evaluate(hz)
        page.keyboard.press("ArrowRight")
        assert page.evaluate(hz) == pytest.approx(before + 1, abs=0.51)
        assert page.text_content("#resonance-hz") == f"{page.evaluate(hz):.0f} Hz"
        page.focus("#field")
        for key, way in (("s", 1), ("a", -1)):
            before = page.evaluate(hz)
            page.keyboard.press(key)
            assert (page.evaluate(hz) > before) == (way > 0)
        page.focus("#field")
        for _ in range(60):
            page.keyboard.press("s")
        assert page.evaluate(hz) == 1500
        page.check("#firm")
        page.focus("#start")
        page.keyboard.press("Enter")
        until(page, "live.graph && live.graph.context.currentTime > 0.1")
        tall = page.evaluate("field.clientHeight")
        before, after, *lips = page.evaluate(FINGERS)
        assert after == pytest.approx(before * (200 / 1500) ** (80 / tall), rel=0.01)  # px, down
        assert lips[0] == lips[1]
        page.evaluate("set(420, 8000)")
        page.focus("#resonance")
        page.keyboard.down(" ")
        time.sleep(0.3)
        page.keyboard.press("PageDown")
        time.sleep(0.3)
        page.keyboard.up(" ")
        text = kept_scene(page)
    path = tmp_path / "gesture.toml"
    path.write_text(text, encoding="utf-8")
    kept = read_scene(path)
    assert kept.lips.firmness
    places = [hz for _, hz in kept.mouth.resonance_hz]
    # from its beginning: what the fingers did within three seconds before is part of it
    assert places[0] == 1500
    assert min(abs(p - after) for p in places) < 0.01
    assert places[-1] < after - 1


FINGERS = """() => {
  const box = field.getBoundingClientRect();
  const x = box.left + box.width / 2, y = box.top + box.height / 2;
  const send = (type, pointerId, dx, dy) => field.dispatchEvent(new PointerEvent(type,
    { pointerId, pointerType: "touch", clientX: x + dx, clientY: y + dy, bubbles: true }));
  field.setPointerCapture = () => {};
  send("pointerdown", 11, 0, 0);
  const before = state.resonance, lips = state.tension;
  send("pointerdown", 12, 50, -40);
  send("pointermove", 12, 50, 40);
  const moved = [before, state.resonance, lips, state.tension];
  send("pointerup", 12, 50, 40);
  if (!state.blowing) throw new Error("the second finger is not the breath's");
  send("pointerdown", 13, 50, 40);
  send("pointerup", 11, 0, 0);
  if (state.blowing) throw new Error("the first finger is");
  send("pointerdown", 11, 0, 0);
  if (!state.blowing) throw new Error("and blows again while the other stays");
  for (const finger of [13, 11]) send("pointerup", finger, 0, 0);
  return moved;
}"""


def test_hidden_or_started_elsewhere_it_stops(browser, made):
    with opened(browser, made[0]) as page:
        page.click("#start")
        until(page, "live.graph")
        page.evaluate("other && other.onmessage()")
        until(page, "!live.graph")
        page.click("#start")
        until(page, "live.graph")
        page.evaluate(
            "Object.defineProperty(document, 'hidden', {value: true});"
            "document.dispatchEvent(new Event('visibilitychange'))"
        )
        assert page.evaluate("live.graph") is None
        assert "hidden" in page.text_content("#told")


def test_a_slow_machine_gets_half_the_rate(browser, made):
    with opened(browser, made[0]) as page:
        page.click("#start")
        until(page, "live.graph")
        page.evaluate("live.graph.node.port.onmessage({data: 'slow'})")
        until(page, "live.graph && live.graph.context.sampleRate === 24000")
        assert "half the rate" in page.text_content("#told")
    assert RATES == (48_000, 24_000)


@pytest.mark.parametrize("width", [360, 1920])
def test_it_fits_and_can_be_used_by_everyone(browser, made, width):
    from axe_core_python.sync_playwright import Axe

    with opened(browser, made[0], viewport={"width": width, "height": 800}) as page:
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        found = Axe().run(page)["violations"]
        serious = [v["id"] for v in found if v["impact"] in ("serious", "critical")]
        assert serious == []
        assert page.title().startswith("Wednesday <script>")


def test_one_file_under_half_a_megabyte(made):
    assert made[0].stat().st_size < 500_000
    json.dumps(made[1], allow_nan=False)
