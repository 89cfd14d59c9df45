"""Colours are written down once, and a page names none that is not."""

import re
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from matplotlib.colors import to_hex

import lipmodel.output
from lipmodel.output.pages.live.words import WORDS
from lipmodel.output.pictures import colours
from lipmodel.output.pictures.map import paler
from lipmodel.output.pictures.style import CURVES

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


# Machado, Oliveira and Fernandes, A physiologically-based model for simulation of color vision
# deficiency (2009), table of severity 1.0, linear RGB; figures from memory
SEEN = {
    "usual": np.eye(3),
    "no red cones": np.array(
        [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216],
         [-0.003882, -0.048116, 1.051998]]
    ),
    "no green cones": np.array(
        [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413],
         [-0.011820, 0.042940, 0.968881]]
    ),
}  # fmt: skip
TOGETHER = {  # what stands side by side and is told apart
    "what sounds, the lips, the air column": (colours.SOUND, colours.LIPS, colours.AIR_COLUMN),
    "energy": (colours.LIPS, colours.WALL, colours.SOUND),
    "several sounds": tuple(colour for colour, _ in CURVES),
    "pressure": (colours.OVER, colours.UNDER, colours.PAPER),
}


def lab(colour, matrix):
    """CIE L*a*b* (1976, D65) of a colour as an eye of this kind sees it."""
    parts = np.array([int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)])
    linear = np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)
    linear = np.clip(matrix @ linear, 0, 1)
    to_xyz = [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]
    x, y, z = np.cbrt(np.array(to_xyz) @ linear / [0.9505, 1.0, 1.089])
    return np.array([116 * y - 16, 500 * (x - y), 200 * (y - z)])


@pytest.mark.parametrize("eye", SEEN.values(), ids=SEEN)
@pytest.mark.parametrize("group", TOGETHER.values(), ids=TOGETHER)
def test_colours_that_stand_together_differ_to_every_eye(group, eye):
    for one, other in combinations(group, 2):
        # ten times what an eye just sees (2.3, Mahy and others 1994; from memory) would be 23
        assert np.linalg.norm(lab(one, eye) - lab(other, eye)) > 15, (one, other)


def test_a_colour_has_one_meaning():
    kinds = ("SOUND", "LIPS", "BREATH", "PLUM", "THIRD", "AIR_COLUMN", "WALL", "OVER", "UNDER")
    values = [getattr(colours, kind) for kind in kinds]
    assert len(set(values)) == len(kinds)
    assert colours.TINTS[-1] == colours.WALL
    styles = "\n".join(p.read_text("utf-8") for p in TEXTS if p.suffix == ".css")
    for rule in re.findall(r"([^{}]*)\{[^{}]*var\(--lips\)[^{}]*\}", styles):
        assert rule.strip() == ".share0"  # cautions, a tour and what is focused are no lips
