"""A small map to work off on a cluster."""

import pytest

from lipmodel.studies import map

SCENE = """
[instrument]
name = "trumpet"
[player]
tension_hz = 300
pressure_kpa = 4
[map]
tension_hz = [300, 460]
pressure_kpa = [3, 6]
columns = 5
rows = 3
note_s = 0.2
"""


@pytest.fixture
def scene(tmp_path, monkeypatch):
    monkeypatch.setattr(map, "THRESHOLDS", (0.9, 1.0, 2))
    path = tmp_path / "class.toml"
    path.write_text(SCENE, encoding="utf-8")
    return path
