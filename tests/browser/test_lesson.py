"""The lesson's page in a browser: it loads from a file, plays, moves, can be walked and printed."""

import re
from contextlib import contextmanager

import numpy as np
import pytest
from support import browsing, small_lesson
from support.browsing import WIDTHS, until, watched
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


def test_it_plays_and_the_cursor_goes_along(browser, lesson):
    with opened(browser, lesson) as page:
        page.click(".play")
        until(page, "lesson.takes[0].audio.currentTime > 0.4")
        # three frames of a busy machine
        time, shown, x, left, right, width, length = page.evaluate(
            "(() => { const t = lesson.takes[0]; return [t.audio.currentTime, Number("
            "t.chart.dataset.time), Number(t.line.getAttribute('x1')), t.left, t.right, t.width,"
            " t.data.length_s]; })()"
        )
        assert abs(time - shown) < 0.15
        assert (x - left) / (width - left - right) * length == pytest.approx(shown, abs=0.01)


@pytest.mark.slow
def test_the_take_is_the_note_that_was_asked_for(browser, lesson):
    with opened(browser, lesson) as page:
        samples = page.evaluate(
            "(async () => { const raw = bytesOf(lesson.takes[0].audio.src.split(',')[1]);"
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
        page.locator(".tube fieldset label", has_text="bent").click()
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


def test_a_presenter_remote_turns_the_pictures(browser, lesson):
    shown = "[...document.querySelectorAll('.slide')].filter(s => s.offsetHeight).length"
    with opened(browser, lesson) as page:
        page.click("#projector")
        assert page.evaluate(shown) == 1
        first = page.evaluate("at")
        for key, moved in (("PageDown", 1), ("ArrowRight", 2), ("ArrowLeft", 1), ("PageUp", 0)):
            page.keyboard.press(key)
            assert page.evaluate("at") == first + moved
        page.keyboard.press("b")
        assert page.locator("#dark").is_visible()
        page.keyboard.press(".")
        assert not page.locator("#dark").is_visible()
        page.keyboard.press("Escape")
        until(page, "!document.body.classList.contains('projector')")


@pytest.mark.slow
def test_it_prints_as_handout_and_as_worksheet(browser, lesson):
    with opened(browser, lesson) as page:
        page.emulate_media(media="print")
        seen = {n: page.locator(n).first.is_visible() for n in (".on-paper", ".chart", ".lines")}
        assert seen == {".on-paper": True, ".chart": True, ".lines": False}
        assert not page.locator(".bar").is_visible()
        page.emulate_media(media="screen")
        page.check("#worksheet")
        page.emulate_media(media="print")
        seen = {n: page.locator(n).first.is_visible() for n in (".on-paper", ".chart", ".lines")}
        assert seen == {".on-paper": False, ".chart": False, ".lines": True}
        assert page.locator(".answers").is_visible()


@pytest.mark.slow
def test_the_loudspeaker_check_is_one_quiet_second(browser, lesson):
    with opened(browser, lesson) as page:
        page.click("#tone")
        assert "440 Hz" in page.inner_text("#told")
        assert page.evaluate("context.state") == "running"


@pytest.mark.slow
def test_nothing_serious_stands_in_the_way_of_anybody(browser, lesson):
    from axe_core_python.sync_playwright import Axe

    with opened(browser, lesson) as page:
        for _ in range(2):  # as a page, then before a class
            found = Axe().run(page)["violations"]
            bad = [
                (v["id"], [n["html"][:120] for n in v["nodes"]])
                for v in found
                if v["impact"] in ("serious", "critical")
            ]
            assert bad == []
            page.click("#projector") if page.locator("#projector").is_visible() else None


def test_sounds_are_equally_loud_or_as_loud_as_they_are(browser, lesson):
    with opened(browser, lesson) as page:
        turned = np.array(page.evaluate("lesson.takes.map((t) => Number(t.box.dataset.real))"))
        even = np.array(page.evaluate("lesson.takes.map((t) => Number(t.box.dataset.equal))"))
        assert page.evaluate("lesson.takes.every((t) => t.audio.volume <= loudness())")
        page.locator(".bar label", has_text="as loud as they are").click()
        now = np.array(page.evaluate("lesson.takes.map((t) => t.audio.volume / loudness())"))
    assert turned.min() == 0.0
    assert np.ptp(turned) > 1  # dB; the bent note is softer than the locked one
    assert not np.array_equal(turned, even)
    assert now == pytest.approx(10 ** (-turned / 20), rel=1e-3)
