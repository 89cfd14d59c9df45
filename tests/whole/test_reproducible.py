"""A report holds all that a repeat needs, and a repeat gives the same bytes."""

import json
import os
import platform
import subprocess
import sys
from importlib import metadata
from pathlib import Path

import pytest
from support.again import written_again

from lipmodel.files.tables import digest
from lipmodel.output.render import render

pytestmark = pytest.mark.slow  # scenes played twice in fresh processes

ROOT = Path(__file__).resolve().parents[2]
NOTE = """\
title = "A C\\" of the \\\\ harbour"
[instrument]
name = "trumpet"
bell = "gradual"
valves = "0"
mute = { cork_mm = 2.0 }
[air]
temperature_c = 17.3
breath = true
"""
SHORT = {
    "a sweep": NOTE
    + """[player]
pressure_kpa = [[0.0, 0.0], [0.1, 6.0]]
tension_hz = [[0.0, 300.0], [0.4, 600.0]]
flutter_percent = 2.0
[lips]
width_mm = 7.5
[sound]
length_s = 0.4
seed = 7
""",
    "a note": NOTE.replace('bell = "gradual"\n', "").replace("mute =", "# mute =")
    + """[show]
energy = true
[[player.phrase]]
note = "G4"
length_s = 0.5
pressure_kpa = 7.0
valves = "0"
vibrato = { by = "breath", depth_percent = 5.0 }
""",
    "a source": NOTE
    + """[source]
kind = "breath"
flow_l_s = 0.1
[sound]
length_s = 0.3
seed = 3
""",
    "a bore of its own": """[instrument]
bore = "tube.toml"
[player]
pressure_kpa = 5.0
tension_hz = 350.0
[sound]
length_s = 0.3
rate_hz = 44100
""",
}
TUBE = """\
end = "flanged"
[[section]]
shape = "points"
points_mm = [[0, 12.1], [300, 12.3], [300, 13], [900, 30]]
"""


def taken(path, out):
    (take,) = render(path, out)
    return json.loads((take.folder / "report.json").read_text("utf-8")), take.folder


@pytest.mark.parametrize("text", SHORT.values(), ids=SHORT)
def test_a_scene_written_from_its_report_sounds_the_same(tmp_path, text):
    (tmp_path / "scene.toml").write_text(text, "utf-8")
    (tmp_path / "tube.toml").write_text(TUBE, "utf-8")
    report, folder = taken(tmp_path / "scene.toml", tmp_path / "out")
    assert report["sha256"] == digest((folder / "sound.wav").read_bytes())
    away = tmp_path / "away"
    away.mkdir()
    again, _ = taken(written_again(report, away), tmp_path / "again")
    assert again["sha256"] == report["sha256"]
    # the report, the pressures and the pitch of it too
    for key in ("rate_hz", "length_s", "pitch", "notes", "level", "energy", "air", "resonances"):
        assert again.get(key) == report.get(key), key


def test_the_report_says_what_it_was_made_with(played):
    made = played("note")["made_with"]
    assert set(made) == {"python", "numpy", "numba", "scipy", "machine"}
    assert made["python"] == platform.python_version()
    for library in ("numpy", "numba", "scipy"):
        assert made[library] == metadata.version(library)
    assert made["machine"] == f"{platform.system()} {platform.machine()}"
    assert platform.node() not in str(made)


def test_two_fresh_processes_write_the_same_bytes(tmp_path):
    (tmp_path / "scene.toml").write_text(SHORT["a sweep"], "utf-8")
    sounds = []
    for name in ("one", "two"):
        # each with nothing kept from before
        cache = {"LIPMODEL_CACHE": str(tmp_path / f"{name}-cache"), "PYTHONPATH": str(ROOT)}
        subprocess.run(
            [sys.executable, "-m", "lipmodel", "render", "scene.toml", "--out", name],
            cwd=tmp_path, env={**os.environ, **cache}, check=True, capture_output=True,
        )  # fmt: skip
        sounds.append((tmp_path / name / "scene" / "sound.wav").read_bytes())
    assert sounds[0] == sounds[1]
    assert len(sounds[0]) > 40_000
