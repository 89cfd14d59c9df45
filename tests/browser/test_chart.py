"""The fingering chart in a browser: on one sheet, and within a phone's width."""

from contextlib import contextmanager

import pytest
from support import browsing

from lipmodel.commands.main import main

PHONE = (390, 844)
A4_MM = 297.0 - 2 * 10.0  # the sheet without its margins
A4_WIDE_MM = 210.0 - 2 * 12.0
MM = 96 / 25.4  # CSS pixels

pytestmark = pytest.mark.slow  # a browser: in CI, or on demand

browser = browsing.browser  # the same fixture


@contextmanager
def opened(browser, path, width, height):
    """The page in a window of so many pixels."""
    context = browser.new_context(viewport={"width": int(width), "height": int(height)})
    page = context.new_page()
    page.goto(path.as_uri())
    yield page
    context.close()


@pytest.fixture(scope="module", params=["trumpet", "trombone", "tuba"])
def chart(request, tmp_path_factory):
    folder = tmp_path_factory.mktemp("chart") / request.param
    assert main(["chart", request.param, "--out", str(folder)]) == 0
    return folder / "chart.html"


def test_it_prints_on_one_sheet(browser, chart):
    with opened(browser, chart, A4_WIDE_MM * MM, A4_MM * MM) as page:
        page.emulate_media(media="print")
        assert page.evaluate("document.documentElement.scrollHeight") <= A4_MM * MM
        assert page.evaluate("document.documentElement.scrollWidth") <= A4_WIDE_MM * MM


def test_a_phone_shows_a_note_a_row_and_nothing_beside_the_screen(browser, chart):
    with opened(browser, chart, *PHONE) as page:
        assert page.evaluate("document.documentElement.scrollWidth") == PHONE[0]
        rows = page.evaluate(
            "[...document.querySelectorAll('.chart tbody tr')].map(r => r.offsetHeight)"
        )
        assert len(rows) > 30
        assert max(rows) < 90  # three lines of a cell, no card
