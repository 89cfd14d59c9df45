"""What the live page is made of."""

import json

import numpy as np
import pytest
from support import small_live
from support.small_live import scene

from lipmodel.output import live
from lipmodel.output.pages.live.page import live_page
from lipmodel.player.build import build
from lipmodel.scene.scene import read_scene

few_tubes = small_live.few_tubes  # the same fixture


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


VALVED = """
[valves]
second_mm = 60
[[section]]
shape = "cylinder"
length_mm = 900
diameter_mm = 14
valves = [[2, 400.0]]
"""


def test_valves_are_down_on_the_page_whatever_the_scene_plays(tmp_path):
    tune = '[instrument]\nbore = "pipe.toml"\nvalves = "auto"\n[player]\ntune = "C5 1"\n'
    path = scene(tmp_path, 900, text=tune)
    (tmp_path / "pipe.toml").write_text(VALVED)
    up, down = live.live_set(read_scene(path))["choices"]
    assert (up["label"], down["label"]) == ("pipe.toml", "2")
    assert up["resonances"][0]["frequency_hz"] > 1.05 * down["resonances"][0]["frequency_hz"]
    (tmp_path / "again.toml").write_text(
        down["toml"] + "[player]\npressure_kpa = 4\ntension_hz = 300\n"
    )
    assert build(read_scene(tmp_path / "again.toml")).bore.length == pytest.approx(0.96)


def test_a_mouth_is_refused_in_one_line(tmp_path):
    from lipmodel.errors import SceneError

    path = scene(tmp_path, 900)
    path.write_text(path.read_text("utf-8") + "\n[mouth]\nresonance_hz = 500\n", "utf-8")
    with pytest.raises(SceneError, match=r"has a \[mouth\].*take \[mouth\] out"):
        live.live_set(read_scene(path))
