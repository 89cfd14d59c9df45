"""The committed gallery: small, whole, and made from the scenes as they are."""

import json
import re

import pytest
from reference import make_gallery
from reference.make_gallery import GALLERY, PICTURES

from lipmodel.lips import SMALL
from lipmodel.output.pages.live.page import LOOP, SCRIPTS, _text
from lipmodel.output.pages.live.words import WORDS

AGAIN = "run: python tests/reference/make_gallery.py"


@pytest.fixture(scope="module")
def made_from():
    return json.loads((GALLERY / "made_from.json").read_text("utf-8"))


def test_it_was_made_from_the_scenes_as_they_are(made_from):
    assert made_from["scenes"] == make_gallery.sources(), AGAIN


def test_it_holds_what_it_should_and_is_small():
    expected = {*PICTURES, "why_notes_snap.html", "live.html", "made_from.json"}
    assert {p.name for p in GALLERY.iterdir()} == expected
    # a bar of the project's own: a clone stays quick
    assert sum(p.stat().st_size for p in GALLERY.iterdir()) < 6_000_000


@pytest.mark.slow
@pytest.mark.parametrize("scene", make_gallery.PLAYED)
def test_its_notes_are_those_that_are_played_now(made_from, scene, tmp_path):
    for known, now in zip(made_from["notes_hz"][scene], make_gallery.played(scene, tmp_path),
                          strict=True):  # fmt: skip
        # the same machine gives the same bits; another one, rounding
        assert now == pytest.approx(known, rel=6e-4), AGAIN  # a cent


def test_the_readme_shows_it():
    readme = (make_gallery.ROOT / "README.md").read_text("utf-8")
    shown = re.findall(r"\(renders/gallery/(\w+\.\w+)\)", readme)
    assert len([name for name in shown if name.endswith(".png")]) >= 2
    for name in shown:
        assert (GALLERY / name).is_file()


def test_the_live_horn_is_small_is_todays_and_stands_at_the_readmes_top():
    page = (GALLERY / "live.html").read_text("utf-8")
    assert len(page.encode()) < 500_000
    data = json.loads(re.search(r'id="data">(.*?)</script>', page, re.DOTALL)[1])
    assert data["words"] == WORDS, f"{AGAIN} live"
    assert data["worklet"] == "\n".join(map(_text, LOOP)), f"{AGAIN} live"
    assert "\n".join(map(_text, SCRIPTS)) in page, f"{AGAIN} live"
    assert data["lips"]["both"]["constants"] == SMALL.constants().tolist(), f"{AGAIN} live"
    assert data["choices"][0]["label"] == "trumpet"
    assert not re.search(r"https?:", page)
    readme = (make_gallery.ROOT / "README.md").read_text("utf-8")
    assert "(renders/gallery/live.html)" in readme.split("\n## ")[0]


def test_the_lesson_is_whole_and_asks_for_nothing():
    page = (GALLERY / "why_notes_snap.html").read_text("utf-8")
    assert page.startswith("<!DOCTYPE html>")
    assert page.rstrip().endswith("</html>")
    assert "Why notes snap" in page
    assert not re.search(r"(?:src|href)=[\"']?https?:", page)
