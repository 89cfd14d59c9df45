"""Scene files by their text: a sweep, a tune, a hose."""

import pytest

from lipmodel.scene.scene import read_scene

SWEEP = """
[instrument]
name = "trumpet"
[player]
pressure_kpa = 5
tension_hz = [[0, 140], [12, 900]]
"""
TUNE = """
[instrument]
name = "trumpet"
[player]
tune = "C4 1, - 0.5, B♭4 2"
tempo_bpm = 120
"""
HOSE = """
title = "Garden hose"
[[section]]
shape = "cylinder"
length_mm = 3000
diameter_mm = 12.5
"""


@pytest.fixture
def scene(tmp_path):
    """A function from text to the scene that it makes."""

    def read(text: str, name: str = "harbour.toml"):
        file = tmp_path / name
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(text, "utf-8")
        return read_scene(file)

    return read
