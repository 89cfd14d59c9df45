"""What the live page is made of."""

import json

import numpy as np
import pytest
from support import small_live
from support.small_live import SCENE, scene

from lipmodel.lips import PLAYERS
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


def test_what_is_being_done_is_told_as_it_is_begun(tmp_path):
    told = []
    tune = '[instrument]\nbore = "pipe.toml"\n[player]\npressure_kpa = 4\ntension_hz = 300\n'
    path = scene(tmp_path, 900, text=tune)
    (tmp_path / "pipe.toml").write_text(VALVED)
    live.live_set(read_scene(path), told.append)
    assert told == [
        "pipe.toml: the time loop's numbers",
        "pipe.toml: where notes hold (1 of 2)",
        "valves 2: where notes hold (2 of 2)",
        "pipe.toml: lips for every note",
    ]


def test_a_scene_with_a_valve_down_can_lift_it_on_the_page(tmp_path):
    down = '[instrument]\nbore = "pipe.toml"\nvalves = "2"\n[player]\ntension_hz = 300\n'
    path = scene(tmp_path, 900, text=down + "pressure_kpa = 4\n")
    (tmp_path / "pipe.toml").write_text(VALVED)
    found = live.live_set(read_scene(path))
    assert [c["label"] for c in found["choices"]] == ["pipe.toml", "0"]
    assert found["held"]["valves"] == "2"
    assert "valves" not in found["held"]["toml"]
    assert found["choices"][0]["loops"][0]["tap"] != found["choices"][1]["loops"][0]["tap"]


def test_an_even_breath_is_mf_in_the_middle_and_speaks_everywhere():
    for lips in PLAYERS.values():
        settings = np.geomspace(50, 1000, 30)
        breath = live.even_breath(lips, settings)
        assert np.all(np.diff(breath) > 0)
        assert np.all(breath > 1.4 * lips.threshold_per_hz * settings)
        assert breath[0] == pytest.approx(lips.breath("mf", lips.middle), rel=0.01)


def with_player(folder, more):
    path = scene(folder, 900)
    path.write_text(path.read_text("utf-8") + more, "utf-8")
    return live.live_set(read_scene(path))


def test_without_a_word_of_it_lips_stay_as_they_are_and_the_mouth_is_off(tmp_path):
    found = with_player(tmp_path, "")
    assert not found["firm"]
    assert not any(lips["firm"] for lips in found["lips"].values())
    assert found["mouth"] == {
        "on": False, "resonance_hz": 500.0, "lowest_hz": 200, "highest_hz": 1500,
        "air": {"peak": 15e6, "compliance": None, "quality": 6.0, "glottis": None},
    }  # fmt: skip
    assert found["tables"]["mouth"] == ""


def test_notes_make_no_firm_lips_of_a_hand(tmp_path):
    tune = '[instrument]\nbore = "pipe.toml"\n[player]\ntune = "C5 1"\n'
    assert not live.live_set(read_scene(scene(tmp_path, 900, text=tune)))["firm"]


def test_what_the_scene_says_of_lips_and_mouth_is_how_the_page_opens(tmp_path):
    found = with_player(
        tmp_path, "[lips]\nfirmness = true\n[mouth]\nresonance_hz = 150\nvolume_ml = 50\n"
    )
    assert found["firm"]
    assert all(lips["firm"] for lips in found["lips"].values())
    mouth = found["mouth"]
    assert (mouth["on"], mouth["resonance_hz"], mouth["lowest_hz"]) == (True, 150.0, 150)
    assert found["tables"]["mouth"] == "volume_ml = 50.0\n"
    assert found["tables"]["lips"] == ""  # the page's own box says it
    page = live_page("A pipe", found)
    assert "for lips that grow firmer with the breath." in page
    assert 'min="150" max="1500"' in page


def test_a_gesture_keeps_a_vowels_volume(tmp_path):
    found = with_player(tmp_path, '[mouth]\nvowel = "ee"\nquality = 9\n')
    (tmp_path / "again.toml").write_text(
        SCENE + "[mouth]\nresonance_hz = 900\n" + found["tables"]["mouth"], "utf-8"
    )
    again = build(read_scene(tmp_path / "again.toml")).horn.mouth
    air = found["mouth"]["air"]
    assert again.compliance == pytest.approx(air["compliance"], rel=1e-12)
    assert again.quality == air["quality"] == 9


def test_slots_are_worked_out_without_the_mouth(tmp_path):
    plain = with_player(tmp_path, "")
    led = with_player(tmp_path, "[mouth]\nresonance_hz = 700\n")
    assert led["choices"] == plain["choices"]
    assert led["mouth"]["on"]
