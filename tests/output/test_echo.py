"""A scene that shows its echoes writes, tells and sounds them."""

import io
import json

import numpy as np
import pytest
import soundfile
from support.typed import misfits

from lipmodel.output.render import render
from lipmodel.output.report_types import Report

SCENE = """title = "All three"
[instrument]
name = "trumpet"
[player]
tension_hz = 420.0
pressure_kpa = 8.0
[sound]
length_s = 0.6
[show]
mirror = true
field = true
echo = true
[[variant]]
name = "no bell"
instrument.bell = "none"
show.field = false
"""


@pytest.fixture(scope="module")
def takes(tmp_path_factory):
    folder = tmp_path_factory.mktemp("inside")
    (folder / "all.toml").write_text(SCENE, encoding="utf-8")
    return render(folder / "all.toml", folder / "out")


def test_a_scene_that_shows_them_writes_and_tells_them(takes):
    first, bare = takes
    names = {p.name for p in first.folder.iterdir()}
    assert {"mirror.png", "field.png", "field.json", "echo.png", "echo.wav"} <= names
    report = json.loads((first.folder / "report.json").read_text())
    told = " ".join(report["sentences"])
    for name in ("mirror.png", "field.png", "echo.png", "echo.wav"):
        assert name in told
        assert name.split(".")[0] in report
    assert not misfits(report, Report)
    assert [m["name"] for m in report["echo"]["members"]] == ["School trumpet", "no bell"]
    assert report["echo"]["members"][0]["end_s"] > report["echo"]["members"][1]["end_s"]
    assert (first.folder / "field.json").stat().st_size < 300_000
    other = json.loads((bare.folder / "report.json").read_text())
    assert "field" not in other
    assert "same 3.9 ms" in " ".join(other["sentences"])


def test_the_sound_of_the_echo_is_soft_and_ends_in_silence(takes):
    samples, rate = soundfile.read(io.BytesIO((takes[0].folder / "echo.wav").read_bytes()))
    assert rate == 48_000
    assert 0.2 < np.abs(samples).max() <= 0.25
    assert samples[0] == samples[-1] == 0
    half = len(samples) // 2
    # the first click has one round of echoes, with the lips shut they go on: a tenth of a second
    # after it there is nothing, after the second one there still is
    again = half + int(0.25 * rate) + int(0.1 * rate)
    assert np.abs(samples[int(0.1 * rate) : half]).max() < 1e-3
    assert np.abs(samples[again : again + 480]).max() > 3e-3
