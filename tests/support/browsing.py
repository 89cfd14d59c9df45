"""A browser for the tests of pages: ready, watched for complaints, and waited for."""

import os
import shutil
import time
from contextlib import contextmanager

import pytest

BROWSER = next(
    filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None
)
WIDTHS = (360, pytest.param(1920, marks=pytest.mark.slow))


@pytest.fixture(scope="module")
def browser():
    if BROWSER is None:
        told = "no chromium on this machine: apt-get install chromium"
        if os.environ.get("CI") == "true":
            pytest.fail(told)
        pytest.skip(told)
    from playwright.sync_api import sync_playwright

    with sync_playwright() as play:
        started = play.chromium.launch(
            executable_path=BROWSER,
            args=["--no-sandbox", "--autoplay-policy=user-gesture-required"],
        )
        yield started
        started.close()


@contextmanager
def watched(browser, path, **how):
    """A page, ready; fails where it complained or asked for anything outside."""
    context = browser.new_context(**{"viewport": {"width": 1200, "height": 800}, **how})
    page = context.new_page()
    asked, complained = [], []
    page.on("request", lambda r: asked.append(r.url))
    page.on("console", lambda m: complained.append(m.text) if m.type == "error" else None)
    page.on("pageerror", lambda e: complained.append(str(e)))
    page.on("dialog", lambda d: (complained.append(d.message), d.dismiss()))
    address = path.as_uri()
    page.goto(address)
    page.wait_for_selector("body[data-ready]")
    yield page
    inside = ("data:", "blob:", address)
    assert [url for url in asked if not url.startswith(inside)] == []
    assert complained == []
    context.close()


def until(page, true, seconds=8.0):
    """Wait until a script in the page says so; Playwright's own way needs eval, which the page
    forbids."""
    began = time.monotonic()
    while not page.evaluate(true):
        assert time.monotonic() - began < seconds, true
        page.wait_for_timeout(40)
