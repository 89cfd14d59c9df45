"""A pipe of the harbour class and the zip that is made of its scene."""

import io
import zipfile

import pytest

from lipmodel.output.bundle import bundle

BORE = """
[[section]]
shape = "cylinder"
length_mm = 600
diameter_mm = 12
"""
SCENE = """
title = "A pipe of the harbour <b>class</b>"
[instrument]
bore = "tubes/pipe.toml"
[player]
pressure_kpa = 4
tension_hz = 420
[sound]
length_s = 0.4
[[variant]]
name = "softer"
player.pressure_kpa = 3
"""


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    folder = tmp_path_factory.mktemp("class")
    (folder / "tubes").mkdir()
    (folder / "tubes" / "pipe.toml").write_text(BORE)
    (folder / "pipe.toml").write_text(SCENE)
    data = bundle([folder / "pipe.toml"])
    return folder, data, zipfile.ZipFile(io.BytesIO(data))
