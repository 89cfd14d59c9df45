"""A small map of the trumpet: its scene, and fewer thresholds to look for."""

import functools
from pathlib import Path

import pytest

from lipmodel.studies import map

TRUMPET = """
title = "The Wednesday brass class in a small harbour town"
[instrument]
name = "trumpet"
[player]
tension_hz = 300
pressure_kpa = 4
[map]
tension_hz = [200, 520]
pressure_kpa = [1.5, 8]
columns = 6
rows = 4
note_s = 0.3
"""
MOUTH = ["--mouth-hz", "300", "900", "--pressure-kpa", "9"]
KEYS = {
    "tension_hz",
    "pressure_kpa",
    "frequency_hz",
    "partial",
    "lock",
    "state",
    "rms_pa",
    "threshold",
    "seconds",
    "workers",
    "lost",
}


@pytest.fixture(scope="module", autouse=True)
def two_thresholds_a_partial():
    """Seven of each would take most of the time."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(map, "THRESHOLDS", (0.9, 1.0, 2))
        yield


@pytest.fixture
def scene(tmp_path):
    return written(tmp_path)


def written(folder, *changes) -> Path:
    text = functools.reduce(lambda t, change: t.replace(*change), changes, TRUMPET)
    path = folder / "class.toml"
    path.write_text(text, encoding="utf-8")
    return path
