"""The zip for a supplement: whole, the same twice, and able to make itself again."""

import hashlib
import json
import os
import subprocess
import sys

import pytest
from support import small_bundle

import lipmodel

pytestmark = pytest.mark.slow  # whole bundles

made = small_bundle.made  # the same fixture


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
