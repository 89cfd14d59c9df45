"""What the live page is made of, and what it refuses."""

import json

import numpy as np
import pytest

from lipmodel.commands.main import main
from lipmodel.output import live
from lipmodel.output.pages.live.page import live_page
from lipmodel.player.build import build
from lipmodel.scene.scene import read_scene

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


def test_the_page_carries_the_loops_own_arrays(tmp_path):
    what = read_scene(scene(tmp_path, 900))
    found = live.live_set(what)
    ladder = build(what).horn.ladder
    (choice,) = found["choices"]
    assert found["rates"] == [48_000, 24_000]
    loop = choice["loops"][0]
    assert np.array_equal(loop["admittance"], ladder.admittance)
    assert np.array_equal(loop["scattering"][: len(ladder.scattering)], ladder.scattering)
    assert loop["throat"] == -1  # a pipe has none
    assert [r["n"] for r in choice["resonances"]][:3] == [1, 2, 3]
    json.dumps(found, allow_nan=False)


def test_what_is_switched_to_is_a_scene_that_can_be_rendered(tmp_path):
    found = live.live_set(read_scene(scene(tmp_path, 900)))
    text = found["choices"][0]["toml"] + "[player]\npressure_kpa = 4\ntension_hz = 300\n"
    (tmp_path / "again.toml").write_text(text)
    again = build(read_scene(tmp_path / "again.toml"))
    assert again.bore.length == pytest.approx(0.9)


def test_text_of_a_scene_is_text(tmp_path):
    hostile = "</script><script>alert(1)</script>"
    found = live.live_set(read_scene(scene(tmp_path, 900, hostile)))
    page = live_page(hostile, found)
    assert "<script>alert(1)" not in page
    assert found["choices"][0]["label"] == hostile


def test_a_long_bore_comes_at_half_the_rate_and_a_longer_one_is_refused(tmp_path, capsys):
    out = tmp_path / "live.html"
    assert main(["live", str(scene(tmp_path, 7000)), "--out", str(out)]) == 0
    assert "at half the rate, 24 kHz" in capsys.readouterr().out
    assert '"rates":[24000]' in out.read_text("utf-8")
    out.unlink()
    assert main(["live", str(scene(tmp_path, 19_000)), "--out", str(out)]) == 2
    told = capsys.readouterr().err
    assert "19.0 m long and would cost 13 times a trumpet" in told
    assert told.count("\n") == 1
    assert not out.exists()


@pytest.mark.parametrize(
    ("text", "out", "told"),
    [
        ('[instrument]\nname = "pipe"\n[source]\nkind = "pop"\n', "a.html",
         "needs the lips of a [player]"),
        (SCENE, "a.txt", "expected the name of a file that ends in .html"),
    ],
)  # fmt: skip
def test_bad_input_is_one_line(tmp_path, capsys, text, out, told):
    path = scene(tmp_path, 900, text=text)
    assert main(["live", str(path), "--out", str(tmp_path / out)]) == 2
    error = capsys.readouterr().err
    assert told in error
    assert error.count("\n") == 1
    assert not (tmp_path / out).exists()
