"""Colours are written down once, and a page names none that is not."""

import re
from pathlib import Path

import pytest

import lipmodel.output
from lipmodel.output.pictures import colours

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
