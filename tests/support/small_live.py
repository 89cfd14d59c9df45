"""A pipe for the live page, and few tubes to choose from."""

import pytest

from lipmodel.output import live

PIPE = """
title = "{}"
[[section]]
shape = "cylinder"
length_mm = {}
diameter_mm = 14
"""
SCENE = """
[instrument]
bore = "pipe.toml"
[player]
pressure_kpa = 4
tension_hz = 300
"""


def scene(folder, length, title="A pipe", text=SCENE):
    (folder / "pipe.toml").write_text(PIPE.format(title, length))
    (folder / "class.toml").write_text(text)
    return folder / "class.toml"


@pytest.fixture(autouse=True)
def few_tubes(monkeypatch):
    monkeypatch.setattr(live, "TUBES", ())
