"""Colours are written down once, and a page names none that is not."""

import re
from pathlib import Path

import pytest
from matplotlib.colors import to_hex

import lipmodel.output
from lipmodel.output.pages.live.words import WORDS
from lipmodel.output.pictures import colours
from lipmodel.output.pictures.map import paler

HERE = Path(lipmodel.output.__file__).parent
TEXTS = sorted(p for p in HERE.rglob("*") if p.suffix in (".py", ".css", ".js"))
OWN = {"type", "row"}  # variables that a page sets itself: sizes


@pytest.mark.parametrize("path", TEXTS, ids=lambda p: str(p.relative_to(HERE)))
def test_a_colour_is_written_in_one_place(path):
    text = path.read_text("utf-8")
    written = re.findall(r"#(?:[0-9a-fA-F]{8}|[0-9a-fA-F]{6}|[0-9a-fA-F]{3,4})\b(?![-\w])", text)
    assert path.name == "colours.py" or not written


@pytest.mark.parametrize("path", TEXTS, ids=lambda p: str(p.relative_to(HERE)))
def test_a_page_names_only_colours_that_there_are(path):
    text = path.read_text("utf-8")
    named = set(re.findall(r"var\(--([\w-]+)\)", text))
    named |= set(re.findall(r"\bcolour\([\"`]([\w-]+)[\"`]\)", text))
    for listed in re.findall(r"\[([^\]]*)\]\.map\(colour\)", text):
        named |= set(re.findall(r'"([\w-]+)"', listed))
    known = set(re.findall(r"--([\w-]+):", colours.css_variables()))
    assert path.name == "colours.py" or named - OWN <= known


def test_every_partial_of_a_map_has_its_colour_on_the_page():
    rule = colours.css_variables()
    for n, colour in enumerate(colours.PARTIALS, 1):
        assert f"--partial-{n}: {colour};" in rule
    script = (HERE / "pages" / "lesson" / "map.js").read_text("utf-8")
    assert (
        f"{[*range(1, len(colours.PARTIALS) + 1)]}.map((n) => colour(`partial-${{n}}`))" in script
    )


def lightness(colour: str) -> float:
    """Relative luminance, 0 to 1 (WCAG 2.2, from sRGB)."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_bands_are_as_pale_as_the_page_says():
    draw = (HERE / "pages" / "live" / "draw.js").read_text("utf-8")
    assert re.search(r"of choice\.slots\) \{[^}]*pen\.fillStyle = BAND;", draw)
    words = WORDS["slots"].split(":")[0]
    # halfway to white for the eye: L* 76 (CIE 1976) of a luminance of a half
    assert words == ("Pale bands" if lightness(colours.PAGE["band"]) > 0.5 else "Dark bands")


def test_what_is_not_locked_is_paler_on_a_map():
    caption = (HERE / "pages" / "lesson" / "parts.py").read_text("utf-8")
    assert '"locked; paler: bent or free; grey: unsteady; white: silent.' in caption
    for colour in (*colours.PARTIALS, colours.GLIDING):
        assert lightness(to_hex(paler(colour))) > lightness(colour) + 0.1
    grey = [int(colours.UNSTEADY[i : i + 2], 16) for i in (1, 3, 5)]
    assert max(grey) - min(grey) < 10
