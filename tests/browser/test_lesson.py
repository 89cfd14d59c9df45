"""The lesson's page in a browser: it loads from a file, plays, moves, can be walked and printed."""

import io
import re
from contextlib import contextmanager

import numpy as np
import pytest
from support import browsing, small_lesson
from support.browsing import WIDTHS, until, watched
from support.lesson_parts import made, section, take
from support.music import cents

from lipmodel.analysis.pitch import steady_pitch

pytestmark = pytest.mark.slow  # a browser: in CI, or on demand

browser = browsing.browser  # the same fixture

RATE = 24_000  # Hz, of the map's sounds


@contextmanager
def opened(browser, lesson, **how):
    """The lesson's page, its map ready too."""
    with watched(browser, lesson[0], **how) as page:
        page.wait_for_selector(".map[data-ready]")
        yield page


STAGE = "lesson.stages[0]"


def test_it_plays_and_the_cursor_goes_along(browser, lesson):
    with opened(browser, lesson) as page:
        page.click(".play")
        until(page, f"{STAGE}.voices.time > 0.4")
        # three frames of a busy machine
        time, shown, x, left, right, width, length = page.evaluate(
            f"(() => {{ const t = {STAGE}; return [t.voices.time, Number(t.chart.dataset.time),"
            " Number(t.line.getAttribute('x1')), t.left, t.right, t.width, t.length]; })()"
        )
        assert abs(time - shown) < 0.15
        assert (x - left) / (width - left - right) * length == pytest.approx(shown, abs=0.01)


INKED = """(() => { const svg = document.querySelector('.stage.now svg, .stage svg');
  return [svg.querySelectorAll('.curve').length, svg.querySelectorAll('path').length]; })()"""


def coloured(page):
    """Pixels of the axis on the wall that are neither grey nor paper."""
    from PIL import Image

    shot = page.locator(".stage.now .chart").screenshot()
    pixels = np.asarray(Image.open(io.BytesIO(shot)).convert("RGB"), int)
    inside = pixels[3:-3, 3:-3]  # the shot is rounded up to whole pixels, neighbours and all
    return int(np.sum(np.ptp(inside, axis=2) > 40))


def test_the_curve_is_not_there_until_it_is_revealed(browser, lesson):
    with opened(browser, lesson) as page:
        assert page.evaluate(INKED) == [0, 0]
        page.click("#projector")
        page.evaluate("show(1)")
        assert (page.evaluate(INKED), coloured(page)) == ([0, 0], 0)
        page.keyboard.press("PageDown")  # plays
        until(page, f"{STAGE}.voices.time > 0.3")
        assert (page.evaluate(INKED), coloured(page)) == ([0, 0], 0)
        assert page.get_attribute(".stage .chart", "aria-label").startswith("Empty axis")
        while page.evaluate(f"{STAGE}.step") != "reveal":
            page.keyboard.press("PageDown")
        curves, paths = page.evaluate(INKED)
        assert (curves, paths) == (2, 3)  # both sounds, and the lip setting
        assert coloured(page) > 500
        assert "Empty" not in page.get_attribute(".stage .chart", "aria-label")
        page.keyboard.press("PageUp")
        page.keyboard.press("PageUp")
        assert (page.evaluate(INKED), coloured(page)) == ([0, 0], 0)


@pytest.mark.parametrize("key", ["PageDown", ".", "Enter", "ArrowRight"])
def test_one_key_plays_asks_reveals_and_goes_on(browser, lesson, key):
    told = "document.getElementById('next').textContent"
    with opened(browser, lesson) as page:
        page.click("#projector")
        words = [page.evaluate(told)]
        for _ in range(6):
            page.keyboard.press(key)
            words.append(page.evaluate(told))
            if "question" in words[-1]:
                assert page.evaluate(f"{STAGE}.voices.chosen") == 1
        assert words == [
            "Next: go on", "Next: play 1", "Next: play 2", "Next: the question",
            "Next: the answer", "Next: go on", "Next: go on",
        ]  # fmt: skip
        assert page.locator("#foot").inner_text().count("Page Down") == 1


def test_hands_are_typed_in_and_counted_while_the_clicker_goes_on(browser, lesson):
    with opened(browser, lesson) as page:
        page.click("#projector")
        page.evaluate("show(1)")
        for _ in range(3):
            page.keyboard.press("PageDown")
        page.keyboard.type("7")
        page.keyboard.press("Tab")
        page.keyboard.type("14")
        bars = page.evaluate(
            "[...document.querySelectorAll('.now .vote')].map((v) => v.style.width)"
        )
        assert bars == ["50%", "100%", "0%"]
        page.keyboard.press("ArrowRight")  # the field has the focus; the clicker is heard
        assert page.evaluate(f"{STAGE}.step") == "reveal"
        assert page.inner_text(".now .counted") == "14 of 21 hands"


def test_space_plays_and_the_mouse_leaves_the_clicker_alone(browser, lesson):
    with opened(browser, lesson) as page:
        page.click("#projector")
        page.evaluate("show(1)")
        page.keyboard.press(" ")
        until(page, f"{STAGE}.voices.running")
        page.keyboard.press(" ")
        assert not page.evaluate(f"{STAGE}.voices.running")
        page.evaluate("show(2)")  # the tube
        until(page, "lesson.tubes[0].running")  # of itself, once it is looked at
        page.keyboard.press(" ")
        assert not page.evaluate("lesson.tubes[0].running")
        assert "Violet" in page.inner_text(".now .key")
        page.evaluate("show(1)")
        page.click(".now .play")
        until(page, f"{STAGE}.voices.running")
        page.keyboard.press("2")
        page.keyboard.press("Enter")  # not the button that was clicked: the next thing
        assert page.evaluate(f"{STAGE}.step") == "ask"


def test_sounds_are_switched_without_a_break(browser, lesson):
    with opened(browser, lesson) as page:
        page.click(".play")
        until(page, f"{STAGE}.voices.time > 0.2")
        before = page.evaluate(f"[{STAGE}.voices.began, {STAGE}.voices.sources.length]")
        page.click("button.which >> nth=1")
        after = page.evaluate(f"[{STAGE}.voices.began, {STAGE}.voices.sources.length]")
        assert after == before  # the same clock goes on
        until(page, f"{STAGE}.voices.sources[1].gain.gain.value > 0.1")
        until(page, f"{STAGE}.voices.sources[0].gain.gain.value === 0")


def test_sounds_on_one_axis_differ_in_colour_and_in_style(browser, lesson):
    with opened(browser, lesson) as page:
        page.click(".answer summary")
        looks = page.evaluate(
            "[...document.querySelectorAll('.curve')].map((c) => [getComputedStyle(c).stroke,"
            " getComputedStyle(c).strokeDasharray])"
        )
        assert len(looks) == 2
        assert len({stroke for stroke, _ in looks}) == len({dash for _, dash in looks}) == 2


FITS = """(() => { const bad = [], now = document.querySelector('.slide.now');
  const foot = document.getElementById('foot').getBoundingClientRect().top;
  const seen = (e) => e.getClientRects().length > 0 && !e.parentElement.closest('svg');
  if (now.scrollHeight > now.clientHeight + 1) bad.push(`tall ${now.scrollHeight}`);
  for (const e of now.querySelectorAll('*')) {
    if (!seen(e)) continue;
    const r = e.getBoundingClientRect();
    if (r.right > innerWidth + 1 || r.left < -1 || r.top < -1 || r.bottom > foot + 1)
      bad.push(`${e.tagName} ${e.className} ${Math.round(r.right)} ${Math.round(r.bottom)}`);
  }
  const size = (e) => parseFloat(getComputedStyle(e).fontSize) * 720 / innerHeight;
  for (const e of now.querySelectorAll('.ask, .choice, .said, .right'))
    if (e.getClientRects().length && size(e) < 27.99) bad.push(`${e.className} ${size(e)} px`);
  for (const e of now.querySelectorAll('svg text'))
    if (e.getClientRects().length && size(e) < 17.99) bad.push(`label ${size(e)} px`);
  return bad; })()"""


@pytest.mark.slow
@pytest.mark.parametrize("size", [(1280, 720), (1024, 768), (1920, 1080)])
def test_every_step_of_the_wall_fits_and_is_large_enough(browser, lesson, size):
    with opened(
        browser, lesson, viewport=dict(zip(("width", "height"), size, strict=True))
    ) as page:
        page.click("#projector")
        counted = page.evaluate("[wall.slides.length, document.querySelectorAll('.scene').length]")
        assert counted[0] <= 1 + 2 * counted[1]
        page.evaluate("show(1)")
        while True:
            page.wait_for_timeout(60)
            assert page.evaluate(FITS) == []
            if page.evaluate("document.getElementById('next').textContent") == "Next: the end":
                break
            page.keyboard.press("PageDown")


@pytest.mark.parametrize("size", [(1280, 720), (1024, 768)])
def test_long_words_fit_too(browser, tmp_path, size):
    letters = ("the lips and the breath stay as they are while the tube changes, " * 3).strip()
    words = {"ask": letters[:119] + "?", "choices": tuple(f"{c} {letters[:67]}" for c in "abcd")}
    words |= {"right": 4, "answer": letters[:120], "reason": letters[:120]}
    text = made(section(**words, listen_for=letters[:80], takes=[take(), take()]))
    path = tmp_path / "long.html"
    path.write_text(text, encoding="utf-8")
    viewport = dict(zip(("width", "height"), size, strict=True))
    with watched(browser, path, viewport=viewport) as page:
        page.click("#projector")
        page.evaluate("show(1)")
        for step in ("hear", "ask", "reveal"):
            page.evaluate(f"{STAGE}.go('{step}')")
            page.wait_for_timeout(60)
            assert page.evaluate(FITS) == []
            assert page.locator(".now .chart").is_visible() == (step != "ask")


def test_figures_open_over_the_slide_and_close(browser, lesson):
    with opened(browser, lesson) as page:
        page.click("#projector")
        page.evaluate("show(1)")
        assert not page.locator(".figures table").first.is_visible()
        page.keyboard.press("f")
        assert page.locator(".figures table").first.is_visible()
        page.keyboard.press("PageDown")  # closes, and does nothing else
        assert not page.locator(".figures table").first.is_visible()
        assert page.evaluate(f"[wall.at, {STAGE}.voices.running]") == [1, False]


def test_who_wants_stillness_sees_the_cursor_step(browser, lesson):
    with opened(browser, lesson, reduced_motion="reduce") as page:
        page.click(".play")
        until(page, f"{STAGE}.voices.time > 0.6")
        page.evaluate("window.places = new Set()")
        for _ in range(20):
            page.evaluate(f"void window.places.add({STAGE}.chart.dataset.time)")
            page.wait_for_timeout(10)
        assert page.evaluate("window.places.size") <= 3


@pytest.mark.slow
def test_the_take_is_the_note_that_was_asked_for(browser, lesson):
    with opened(browser, lesson) as page:
        samples = page.evaluate(
            "(async () => { const raw = bytesOf(document.querySelector('audio').src.split(',')[1]);"
            " const made = await new OfflineAudioContext(1, 1, 24000).decodeAudioData(raw);"
            " return [...made.getChannelData(0)]; })()"
        )
    samples = np.array(samples)
    assert np.sqrt(np.mean(samples**2)) > 0.01
    held = samples[int(0.4 * RATE) : int(0.6 * RATE)]
    # C5 on a trumpet in Bb is Bb4, 466.16 Hz (ISO 16); the embouchure ends within 3 cents
    assert abs(cents(steady_pitch(1e4 * held, RATE), 466.16)) < 5.0


def test_the_arrow_keys_walk_the_map_and_the_label_is_what_sounds(browser, lesson):
    with opened(browser, lesson) as page:
        page.locator(".ground").focus()
        heard = []
        for key in ("ArrowUp", "ArrowRight", "ArrowRight"):
            page.keyboard.press(key)
            told = page.inner_text(".cell")
            label = re.search(r"([\d.]+) Hz, partial", told)
            if label:
                samples = page.evaluate(
                    "(() => { const m = lesson.maps[0];"
                    " return [...m.samples(m.row, m.column)]; })()"
                )
                heard.append((float(label[1]), np.array(samples)))
        assert len(heard) >= 2, told
        assert page.evaluate("lesson.maps[0].voices.length") == 1
        assert page.evaluate("context.state") == "running"
    for frequency, samples in heard:
        held = samples[int(0.38 * RATE) : int(0.54 * RATE)]
        # the cell begins where the page thinks it does: breath takes some ms to make a sound
        assert np.std(samples[:100]) < 0.1 * np.std(held)
        # mp3 at 24 kHz, 0.16 s: measured within 1 cent
        assert abs(cents(steady_pitch(1e4 * held, RATE), frequency)) < 4.0


@pytest.mark.slow
def test_a_cell_sounds_at_once_and_a_path_is_a_phrase(browser, lesson):
    with opened(browser, lesson) as page:
        page.click(".again")
        page.click(".again")
        page.locator(".map label", has_text="as loud as").click()
        page.click(".again")
        until(page, "lesson.maps[0].voices[0].gain.gain.value < 1")
        gain, level = page.evaluate(
            "[lesson.maps[0].voices[0].gain.gain.value, lesson.maps[0].cell.level_db]"
        )
        assert level < -1
        assert gain == pytest.approx(10 ** (level / 20), rel=1e-4)
        page.click(".tighten")
        assert page.evaluate("lesson.maps[0].path.length") == 9
        until(page, "lesson.maps[0].column === 3")
        page.locator(".ground").evaluate(
            "ground => ground.scrollIntoView({ block: 'center', behavior: 'instant' })"
        )
        box = page.locator(".ground").bounding_box()
        page.mouse.move(box["x"] + 0.3 * box["width"], box["y"] + 0.8 * box["height"])
        page.mouse.down()
        page.mouse.move(box["x"] + 0.8 * box["width"], box["y"] + 0.2 * box["height"], steps=12)
        page.mouse.up()
        path = page.evaluate("lesson.maps[0].path")
        assert path[0][1] < path[-1][1]
        assert path[0][0] < path[-1][0]


@pytest.mark.slow
def test_the_tube_moves_unless_stillness_is_wanted(browser, lesson):
    phase = "Number(document.querySelector('.tube canvas').dataset.phase)"
    with opened(browser, lesson) as page:
        page.locator(".tube canvas").scroll_into_view_if_needed()
        until(page, f"{phase} > 0.02")
        page.select_option(".tube .which", index=1)
        assert "bent" in page.inner_text(".tube .caption")
    with opened(browser, lesson, reduced_motion="reduce") as page:
        page.locator(".tube canvas").scroll_into_view_if_needed()
        page.wait_for_timeout(300)
        assert page.evaluate(phase) == 0.0
        page.click(".tube .step")
        assert page.evaluate(phase) > 0.0


@pytest.mark.parametrize("width", WIDTHS)
def test_nothing_reaches_past_the_side(browser, lesson, width):
    with opened(browser, lesson, viewport={"width": width, "height": 740}) as page:
        sizes = "[document.documentElement.scrollWidth, document.documentElement.clientWidth]"
        wide, room = page.evaluate(sizes)
        assert wide <= room
        page.click("#projector")
        for _ in range(3):
            page.keyboard.press("PageDown")
            wide, room = page.evaluate(sizes)
            assert wide <= room


def test_hostile_text_is_shown_and_does_nothing(browser, lesson):
    with opened(browser, lesson) as page:
        assert page.evaluate("window.hit") is None
        assert page.title() == small_lesson.HOSTILE
        assert page.inner_text("h1") == small_lesson.HOSTILE
        assert page.evaluate("document.querySelectorAll('[onerror], script').length") == 2


def test_a_presenter_remote_turns_back_and_the_screen_goes_blank(browser, lesson):
    shown = "[...document.querySelectorAll('.slide')].filter(s => s.offsetHeight).length"
    with opened(browser, lesson) as page:
        page.click("#projector")
        assert page.evaluate(shown) == 1
        page.evaluate("show(2)")
        for key, at in (("ArrowLeft", 1), ("PageUp", 0), ("End", None), ("Home", 0)):
            page.keyboard.press(key)
            assert page.evaluate("wall.at") == (
                page.evaluate("wall.slides.length - 1") if at is None else at
            )
        page.keyboard.press("b")
        assert page.locator("#dark").is_visible()
        page.keyboard.press(".")
        assert not page.locator("#dark").is_visible()
        assert page.evaluate("wall.at") == 0
        page.keyboard.press("Escape")
        until(page, "!document.body.classList.contains('projector')")


@pytest.mark.slow
def test_it_prints_as_handout_and_as_worksheet(browser, lesson):
    with opened(browser, lesson) as page:
        page.emulate_media(media="print")
        seen = {n: page.locator(n).first.is_visible() for n in (".on-paper", ".chart", ".lines")}
        assert seen == {".on-paper": True, ".chart": True, ".lines": False}
        assert not page.locator(".bar").is_visible()
        until(page, f"{STAGE}.chart.querySelectorAll('.curve').length === 2")
        page.emulate_media(media="screen")
        page.check("#worksheet")
        page.emulate_media(media="print")
        seen = {n: page.locator(n).first.is_visible() for n in (".on-paper", ".chart", ".lines")}
        assert seen == {".on-paper": False, ".chart": True, ".lines": True}
        until(page, f"{STAGE}.chart.querySelectorAll('.curve').length === 0")
        for name in (".answers", ".name-and-date", ".on-staff svg"):
            assert page.locator(name).first.is_visible(), name
        page.emulate_media(media="screen")
        assert not page.locator(".answers").is_visible()


@pytest.mark.slow
def test_the_loudspeaker_check_is_one_quiet_second(browser, lesson):
    with opened(browser, lesson) as page:
        page.click("#tone")
        assert "440 Hz" in page.inner_text("#told")
        assert page.evaluate("context.state") == "running"


@pytest.mark.slow
def test_nothing_stands_in_the_way_of_anybody(browser, lesson):
    from axe_core_python.sync_playwright import Axe

    def faults(page):
        found = Axe().run(page)["violations"]
        return [(v["id"], [n["html"][:120] for n in v["nodes"]]) for v in found]

    with opened(browser, lesson) as page:
        assert faults(page) == []
        page.click(".answer summary")
        assert faults(page) == []
        page.click("#projector")
        page.evaluate("show(1)")
        for _ in range(7):
            assert faults(page) == []
            page.keyboard.press("PageDown")
        page.keyboard.press("f")
        assert faults(page) == []


def test_sounds_are_equally_loud_or_as_loud_as_they_are(browser, lesson):
    levels = "[...document.querySelectorAll('audio')].map((a) => Number(a.dataset.%s))"
    heard = f"(() => {{ const v = {STAGE}.voices; return [v.gainOf(0), v.gainOf(1)]; }})()"
    with opened(browser, lesson) as page:
        turned = np.array(page.evaluate(levels % "real"))
        even = np.array(page.evaluate(levels % "equal"))
        page.locator(".bar label", has_text="as loud as they are").click()
        first = page.evaluate(heard)
        page.click("button.which >> nth=1")
        second = page.evaluate(heard)
    assert turned.min() == 0.0
    assert np.ptp(turned) > 1  # dB; the bent note is softer than the locked one
    assert not np.array_equal(turned, even)
    assert (first[1], second[0]) == (0, 0)  # one at a time
    now = np.array([first[0], second[1]])
    assert now == pytest.approx(10 ** (-turned[:2] / 20), rel=1e-3)
