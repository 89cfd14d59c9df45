"""The blind page in a browser: right figures, no click, no peeking, a whole session end to end."""

import csv
import json
from contextlib import contextmanager

import numpy as np
import pyloudnorm
import pytest
from scipy import stats
from support import browsing, small_compare

from lipmodel.commands.main import main
from lipmodel.studies import blind_room, blind_test
from lipmodel.studies.blind_results import read_session

pytestmark = pytest.mark.slow  # a browser: in CI, or on demand

chromium = browsing.browser  # the same fixture
until = browsing.until
RATE = 48_000
SOUNDS = 3
ONE_STEP = 1 / (0.010 * RATE)  # of a gain that takes 10 ms from 0 to 1


@contextmanager
def shown(chromium, path, **how):
    """A page of the set, ready; fails where it complained, asked for anything or ran a text."""
    with chromium.new_context(**{"viewport": {"width": 1200, "height": 800}, **how}) as context:
        page, asked, complained = context.new_page(), [], []
        page.on("request", lambda r: asked.append(r.url))
        page.on("pageerror", lambda e: complained.append(str(e)))
        page.on("console", lambda m: m.type == "error" and complained.append(m.text))
        page.goto(path.as_uri())
        yield page
        inside = ("data:", "blob:", path.as_uri())
        assert [url for url in asked if not url.startswith(inside)] == []
        assert complained == []
        assert page.evaluate("window.hit") is None


@pytest.fixture
def blind(compared):
    return compared / "blind.html"


def test_its_figures_are_those_of_scipy(chromium, blind):
    with shown(chromium, blind) as page:
        for count in (10, 16, 50):
            found = page.evaluate(
                f"[...Array({count + 1}).keys()].map((k) => "
                f"[blind.tail(k, {count}, 0.5), ...blind.interval(k, {count})])"
            )
            for right, (p, low, high) in enumerate(found):
                # sums of at most 51 doubles; the interval is halved 60 times
                exact = stats.binomtest(right, count, 0.5, "greater").pvalue
                assert p == pytest.approx(exact, rel=1e-12)
                limits = stats.binomtest(right, count).proportion_ci(0.95, "exact")
                # scipy's own root is good to 1e-9 or so
                assert (low, high) == pytest.approx(tuple(limits), abs=1e-8)
        # tables of the binomial distribution, as printed in textbooks
        assert page.evaluate("blind.tail(12, 16, 0.5)") == pytest.approx(0.0384, abs=5e-5)
        assert page.evaluate("blind.tail(9, 10, 0.5)") == pytest.approx(0.0107, abs=5e-5)


@pytest.mark.parametrize("code", ["anna", "Ünsal-7", "шар", "x" * 20])
def test_its_order_is_the_one_that_results_are_checked_by(chromium, blind, code):
    with shown(chromium, blind) as page:
        for sounds, count in ((2, 10), (3, 16), (12, 50)):
            found = page.evaluate(f"blind.trialsOf({sounds}, {count}, 5, {json.dumps(code)})")
            expected = blind_test.trials(sounds, count, 5, code)
            assert [(t["a"], t["b"], t["x"], t["catch"]) for t in found] == [
                (t.a, t.b, t.x, t.catch) for t in expected
            ]
        assert page.evaluate(f"blind.seal({json.dumps(code)})") == blind_test.seal(code)


def test_what_it_decodes_is_equally_loud_and_lossless(chromium, blind, compared):
    document = json.loads((compared / "compare.json").read_text("utf-8"))
    with shown(chromium, blind) as page:
        sounds = page.evaluate(
            "(async () => { const made = [];"
            " for (const s of JSON.parse(document.getElementById('data').textContent).sounds) {"
            "  const raw = Uint8Array.from(atob(s.flac), (c) => c.charCodeAt(0)).buffer;"
            f"  const found = await new OfflineAudioContext(1, 1, {RATE}).decodeAudioData(raw);"
            "  made.push([...found.getChannelData(0)]); } return made; })()"
        )
    assert len({len(s) for s in sounds}) == 1
    levels = [pyloudnorm.Meter(RATE).integrated_loudness(np.array(s)) for s in sounds]
    # asked for: 0.1 LU; 24 bits leave less than a thousandth
    assert levels == pytest.approx([document["loudness_lufs"]] * SOUNDS, abs=0.01)
    import soundfile

    for row, sound in zip(document["sounds"], sounds, strict=True):
        wav, _ = soundfile.read(compared / row["file"])
        assert np.max(np.abs(wav - sound)) <= 2**-23  # one step of 24 bits


def switched(page, buffers, switches, length=0.5):
    """What a Deck of constant or given buffers plays when switched at those (time, number)."""
    return np.array(
        page.evaluate(
            f"""(async () => {{
  const context = new OfflineAudioContext(1, {int(length * RATE)}, {RATE});
  const buffers = {buffers}.map((f) => {{
    const made = context.createBuffer(1, 4800, {RATE}), data = made.getChannelData(0);
    for (let i = 0; i < 4800; i++) data[i] = f(i);
    return made;
  }});
  const deck = new blind.Deck(context, context.destination, buffers, 0);
  for (const [time, number] of {json.dumps(switches)}) deck.hear(number, time);
  return [...(await context.startRendering()).getChannelData(0)];
}})()"""
        )
    )


def test_switching_never_clicks(chromium, blind):
    quick = [[0.05 + 0.003 * i, i % 3] for i in range(40)]  # faster than the fade itself
    with shown(chromium, blind) as page:
        slow = switched(page, "[() => 1, () => 0, () => 0]", [[0.1, 0], [0.2, 1], [0.3, 0]])
        fast = switched(page, "[() => 1, () => -1, () => 0.5]", quick, 0.7)
        same = switched(page, "[(i) => Math.sin(i / 7), (i) => Math.sin(i / 7), () => 0]",
                        [[0.05, 0], [0.1, 1], [0.2, 0]])  # fmt: skip
    # a straight line of 10 ms; single precision leaves 1e-6
    assert np.max(np.abs(np.diff(slow))) <= ONE_STEP * 1.001 + 1e-6
    assert slow.max() == pytest.approx(1.0, abs=1e-6)
    assert slow[int(0.25 * RATE)] == pytest.approx(0.0, abs=1e-6)
    # from 1 to -1 is twice as far
    assert np.max(np.abs(np.diff(fast))) <= 2 * ONE_STEP * 1.001 + 1e-6
    # where both are one sound, switching changes no sample: they run on one clock
    n = np.arange(int(0.08 * RATE), int(0.4 * RATE))
    assert np.max(np.abs(same[n] - np.sin(n % 4800 / 7))) < 1e-5


def begin(page, code="anna", count=10):
    page.click("#check")
    page.fill("#code", code)
    page.fill("#count", str(count))
    page.click("#start")


def listen_and(page, answer, keys=True):
    """Listen to all three, then answer 0 for A or 1 for B."""
    for name in "ABX":
        page.keyboard.press(name.lower()) if keys else page.click(f"#hear{name}")
        until(page, f"document.getElementById('hear{name}').ariaPressed === 'true'")
    page.keyboard.press(str(1 + answer)) if keys else page.click("#isB" if answer else "#isA")


@pytest.mark.parametrize(("keys", "wrong"), [(True, 1), (False, 4)])
def test_a_session_from_end_to_end(chromium, blind, compared, tmp_path, keys, wrong):
    document = json.loads((compared / "compare.json").read_text("utf-8"))
    trials = blind_test.trials(SOUNDS, 10, document["seed"], "anna")
    missed = [i for i, t in enumerate(trials) if not t.catch][:wrong]
    with shown(chromium, blind, accept_downloads=True) as page:
        begin(page)
        for i, trial in enumerate(trials):
            assert page.inner_text("#which") == f"Trial {i + 1} of 12"
            assert not page.locator("#result").is_visible()
            assert page.inner_text("#told") in ("", "Noted.")
            listen_and(page, trial.x if i not in missed else 1 - trial.x, keys)
        right = 10 - wrong
        assert page.inner_text("#score") == f"{right} of 10 right."
        p = stats.binomtest(right, 10, 0.5, "greater").pvalue
        assert float(page.get_attribute("#chance", "data-p")) == pytest.approx(p, rel=1e-12)
        assert "2 of 2" in page.inner_text("#caught")
        page.keyboard.press("1")  # nothing left to answer
        saved = {}
        for kind in ("json", "csv"):
            with page.expect_download() as download:
                page.click(f"#{kind}")
            saved[kind] = tmp_path / download.value.suggested_filename
            download.value.save_as(saved[kind])
    session = read_session(saved["json"])
    assert (session.right, session.count, session.code) == (right, 10, "anna")
    with open(saved["csv"], encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == 12
    assert sum(row["right"] == "true" for row in rows) == right
    data = json.loads(saved["json"].read_text("utf-8"))
    assert [s["sha256"] for s in data["sounds"]] == [s["sha256"] for s in document["sounds"]]
    assert all(t["ms"] > 0 and t["switches"] >= 3 for t in data["trials"])
    assert main(["compare", "--read", str(saved["json"])]) == 0


def test_an_answer_needs_all_three_and_cannot_be_taken_back(chromium, blind):
    with shown(chromium, blind) as page:
        begin(page)
        page.click("#hearA")
        page.click("#isA")
        assert page.inner_text("#told") == "Listen to A, B and X first."
        assert page.inner_text("#which") == "Trial 1 of 12"
        listen_and(page, 0)
        assert page.inner_text("#which") == "Trial 2 of 12"
        page.keyboard.press("2")  # X has not been heard in this one
        assert page.inner_text("#which") == "Trial 2 of 12"
        assert page.locator("#trial button").all_inner_texts()[-1] == "End practice"
        assert not page.locator("#leave").is_visible()


def test_practice_tells_what_was_right(chromium, blind):
    with shown(chromium, blind) as page:
        page.click("#practise")
        assert page.inner_text("#told") == "First set the volume."
        page.click("#check")
        page.click("#practise")
        listen_and(page, 0)
        told = page.inner_text("#told")
        assert told.startswith(("Right: X was A. So far 1 of 1", "Not so: X was B. So far 0 of 1"))
        page.click("#leave")
        assert page.locator("#setup").is_visible()


@pytest.mark.parametrize(
    ("code", "count", "told"),
    [("", 10, "listener code"), ("a b", 10, "listener code"), ("anna", 9, "Choose 10 to 50")],
)
def test_a_session_that_cannot_be_is_told(chromium, blind, code, count, told):
    with shown(chromium, blind) as page:
        begin(page, code, count)
        assert told in page.inner_text("#told")
        assert page.locator("#setup").is_visible()


def room_trial(page, right, wrong):
    """A trial with so many hands right and wrong; the clicker alone listens."""
    for name in "ABX":
        page.keyboard.press("PageDown")
        until(page, f"document.getElementById('room{name}').ariaPressed === 'true'")
    page.keyboard.press("PageDown")  # stops, and waits for the hands
    for name, hands in zip("ab", (right, wrong), strict=True):
        page.fill(f"#hands-{name}", str(hands))
    page.keyboard.press("PageDown")


def test_a_room_counts_hands_and_hears_at_once(chromium, blind, tmp_path):
    size = {"width": 1280, "height": 720}
    with shown(chromium, blind, accept_downloads=True, viewport=size) as page:
        page.click("#check")
        page.click("#room-start")
        trials = []
        for number in range(6):
            assert page.inner_text("#room-which") == f"Trial {number + 1} of 6"
            room_trial(page, 14, 8)
            x = int(page.inner_text("#room-told .score").startswith("X was B"))
            trials.append((14, 8, x))
            exact = blind_room.chance_of(trials)
            assert float(page.get_attribute("#room-chance", "data-p")) == exact
            assert page.evaluate("document.documentElement.scrollHeight <= innerHeight")
            if number < 5:
                page.keyboard.press("PageDown")
        with page.expect_download() as download:
            page.click("#room-save")
        saved = tmp_path / "room.json"
        download.value.save_as(saved)
    room = blind_room.read_room(saved)
    assert list(room.trials) == trials
    assert main(["compare", "--read", str(tmp_path)]) == 0


def test_a_room_must_listen_and_count_before_it_is_told(chromium, blind):
    with shown(chromium, blind) as page:
        page.click("#room-start")
        assert page.inner_text("#told") == "First set the volume."
        page.click("#check")
        page.fill("#room-count", "4")
        page.click("#room-start")
        assert "Choose 5 to 12" in page.inner_text("#told")
        page.fill("#room-count", "5")
        page.click("#room-start")
        page.click("#room-go")
        assert page.inner_text("#told") == "Listen to A, B and X first."
        for name in "ABX":
            page.click(f"#room{name}")
            until(page, f"document.getElementById('room{name}').ariaPressed === 'true'")
        page.click("#room-go")
        assert "how many hands" in page.inner_text("#told")
        assert page.inner_text("#room-told") == ""


def test_what_a_room_reads_from_the_back_is_large(chromium, blind):
    for width, height in ((1280, 720), (1024, 768), (1920, 1080)):
        with shown(chromium, blind, viewport={"width": width, "height": height}) as page:
            page.click("#check")
            page.click("#room-start")
            sizes = page.evaluate(
                "[...document.querySelectorAll('#room p:not(.note), #room label, .listen button')]"
                ".filter((e) => e.getClientRects().length)"
                ".map((e) => parseFloat(getComputedStyle(e).fontSize))"
            )
            assert min(sizes) >= 28 * height / 720
            sides = "[document.documentElement.scrollWidth, document.documentElement.scrollHeight]"
            wide, tall = page.evaluate(sides)
            assert (wide <= width, tall <= height) == (True, True)


@pytest.mark.parametrize("width", browsing.WIDTHS)
@pytest.mark.parametrize("name", ["blind", "listen"])
def test_it_fits_the_screen_and_stands_in_nobodys_way(chromium, compared, name, width):
    from axe_core_python.sync_playwright import Axe

    how = {"viewport": {"width": width, "height": 800}}
    with shown(chromium, compared / f"{name}.html", **how) as page:
        for state in ("setup", "room", "trial", "result") if name == "blind" else ("",):
            if state == "room":
                page.click("#check")
                page.click("#room-start")
            if state == "trial":
                page.click("#room-leave")
                begin(page)
            if state == "result":
                for _ in range(12):
                    listen_and(page, 0)
            assert page.evaluate("document.documentElement.scrollWidth") <= width
            found = Axe().run(page)["violations"]
            assert [(v["id"], v["nodes"][0]["html"][:120]) for v in found] == []
        assert small_compare.NAME in page.locator("body").text_content()
