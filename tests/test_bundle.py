"""The zip for a supplement: whole, the same twice, and able to make itself again."""

import hashlib
import io
import json
import os
import subprocess
import sys
import zipfile

import pytest

import lipmodel
from lipmodel.commands.main import main
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


def test_it_holds_what_a_reader_needs(made):
    names = set(made[2].namelist())
    assert {"index.json", "versions.json", "methods.md", "rerun.py", "requirements.txt"} <= names
    assert {"scenes/pipe/pipe.toml", "scenes/pipe/tubes/pipe.toml"} <= names
    for take in ("pipe", "pipe-softer"):
        for file in ("sound.wav", "report.json", "picture.png", "picture.svg", "picture.pdf",
                     "traces.csv", "impedance.csv", "listen.html"):  # fmt: skip
            assert f"takes/{take}/{file}" in names
    told = made[2].read("methods.md").decode()
    assert "tubes/pipe.toml" in told
    assert "softer" in told


def test_every_digest_is_right(made):
    archive = made[2]
    lines = archive.read("SHA256SUMS").decode().splitlines()
    assert len(lines) == len(archive.namelist()) - 1
    for line in lines:
        digest, name = line.split("  ")
        assert hashlib.sha256(archive.read(name)).hexdigest() == digest
    report = json.loads(archive.read("takes/pipe/report.json"))
    sound = archive.read("takes/pipe/sound.wav")
    assert hashlib.sha256(sound).hexdigest() == report["sha256"]


@pytest.mark.slow
def test_one_command_makes_it_again(made, tmp_path):
    made[2].extractall(tmp_path)
    root = os.path.dirname(os.path.dirname(lipmodel.__file__))
    done = subprocess.run(
        [sys.executable, "rerun.py"], cwd=tmp_path, capture_output=True, text=True, timeout=300,
        env={**os.environ, "PYTHONPATH": root},
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert done.stdout.count("the same, sample for sample") == 2
    # and it notices another sound
    path = tmp_path / "scenes" / "pipe" / "pipe.toml"
    path.write_text(path.read_text().replace("tension_hz = 420", "tension_hz = 300"))
    done = subprocess.run(
        [sys.executable, "rerun.py"], cwd=tmp_path, capture_output=True, text=True, timeout=300,
        env={**os.environ, "PYTHONPATH": root},
    )  # fmt: skip
    assert done.returncode == 1


def test_the_command_writes_it_whole_or_not_at_all(made, tmp_path, capsys):
    folder = made[0]
    out = tmp_path / "a.zip"
    assert main(["bundle", str(folder / "pipe.toml"), "--out", str(out)]) == 0
    with zipfile.ZipFile(out) as archive:
        sound = archive.read("takes/pipe/sound.wav")
    assert sound == made[2].read("takes/pipe/sound.wav")
    assert "python rerun.py" in capsys.readouterr().out
    assert main(["bundle", str(folder / "pipe.toml"), "--out", str(tmp_path / "a.tar")]) == 2
    assert "ends in .zip" in capsys.readouterr().err
    assert main(["bundle", str(folder / "none.toml"), "--out", str(tmp_path / "b.zip")]) == 2
    assert [p.name for p in tmp_path.iterdir()] == ["a.zip"]


def test_two_scenes_of_one_name_are_refused(made, tmp_path, capsys):
    (tmp_path / "pipe.toml").write_text(SCENE.replace('bore = "tubes/pipe.toml"', 'name = "pipe"'))
    paths = [str(made[0] / "pipe.toml"), str(tmp_path / "pipe.toml")]
    assert main(["bundle", *paths, "--out", str(tmp_path / "b.zip")]) == 2
    assert "expected different names" in capsys.readouterr().err
