"""Scenes of plain tables, and scenes with other values: checked as files are."""

import numpy as np
import pytest
from support import scene_files
from support.scene_files import HOSE, SWEEP

from lipmodel.errors import SceneError
from lipmodel.player.build import build
from lipmodel.scene import instrument
from lipmodel.scene.scene import Scene

scene = scene_files.scene  # the same fixture
TABLES = {
    "instrument": {"name": "trumpet", "valves": "2"},
    "player": {"tension_hz": 300.0, "pressure_kpa": 4},
}


def test_tables_are_a_scene_and_nothing_done_to_them_later_moves_it():
    tables = {**TABLES, "player": {"tension_hz": ((0, 140), (2, 300)), "pressure_kpa": [[0, 4]]}}
    made = Scene.from_dict(tables)
    tables["player"]["pressure_kpa"][0][1] = 99
    assert made.replace({"title": "again"}).player == made.player
    assert made.player.tension_hz == ((0.0, 140.0), (2.0, 300.0))
    assert (made.path, made.instrument.valves, made.sound.length_s) == ("scene", "2", 4.0)


def test_numbers_of_numpy_are_numbers():
    given = {"player.tension_hz": np.array([[0.0, 200.0], [1.0, 300.0]]),
             "player.pressure_kpa": np.float64(5)}  # fmt: skip
    changed = Scene.from_dict(TABLES).replace(given)
    assert changed.player.tension_hz == ((0.0, 200.0), (1.0, 300.0))
    assert changed.player.pressure_kpa == 5.0


def test_tables_in_a_folder_name_its_files(tmp_path):
    (tmp_path / "hose.toml").write_text(HOSE)
    tables = {"instrument": {"bore": "hose.toml"}, "player": TABLES["player"]}
    assert Scene.from_dict(tables, tmp_path).spec().title == "Garden hose"
    with pytest.raises(SceneError, match=r'^scene: instrument\.bore = "\.\./hose\.toml": outside'):
        Scene.from_dict({**tables, "instrument": {"bore": "../hose.toml"}}, tmp_path)


def test_everything_wrong_in_tables_is_told_at_once():
    tables = {"instrument": {"name": "trumpt"}, "player": {"tension_hz": "no"}, "ari": {}}
    with pytest.raises(SceneError) as told:
        Scene.from_dict(tables)
    starts = [
        "scene: instrument.name = ",
        'scene: player.tension_hz = "no": expected a number',
        "scene: player.pressure_kpa: missing",
        "scene: ari: unknown key; did you mean air?",
    ]
    assert [p.startswith(s) for p, s in zip(told.value.problems, starts, strict=True)] == [True] * 4
    with pytest.raises(SceneError, match=r"^scene: expected a table$"):
        Scene.from_dict("trumpet")


def test_variants_of_tables_and_of_what_is_replaced():
    warm = {"name": "warm", "air": {"temperature_c": 30}}
    made = Scene.from_dict({**TABLES, "variant": [warm]})
    assert [v.changed for v in made.variants] == [(), ("air.temperature_c: 22 -> 30",)]
    softer = made.replace({"player.pressure_kpa": 2.0})
    assert [v.scene.player.pressure_kpa for v in softer.variants] == [2.0, 2.0]
    assert len(made.replace({"variant": None}).variants) == 1
    with pytest.raises(SceneError, match=r'^scene: variant "warm": player\.pressure_kpa = -1: '):
        made.replace({"variant": [{**warm, "player": {"pressure_kpa": -1}}]})


def test_a_replaced_value_is_checked_and_the_scene_stays(scene):
    read = scene(SWEEP)
    assert read.replace({"player.tension_hz": 300.0}).player.tension_hz == 300.0
    assert read.player.tension_hz == ((0.0, 140.0), (12.0, 900.0))
    with pytest.raises(SceneError) as told:
        read.replace({"player.tension_hz": "no", "sound.rate": 1})
    assert [p.removeprefix(f"{read.path}: ").split(":")[0] for p in told.value.problems] == [
        'player.tension_hz = "no"', "sound.rate",
    ]  # fmt: skip


def test_what_stands_in_the_place_of_another_takes_it_out(scene):
    tune = scene(SWEEP).replace({"player.tune": "C4 1", "instrument.bell": "none"})
    assert (tune.player.tension_hz, tune.player.tune) == (None, "C4 1")
    assert tune.sound.length_s == 60 / 96 + 0.5  # of the tune: 4 s of the sweep was a default
    hose = tune.replace({"instrument": {"name": "hose"}})
    assert (hose.instrument.name, hose.instrument.bell) == ("hose", None)
    assert tune.replace({"instrument.bell": None}).instrument.bell is None


def test_a_bore_file_is_parsed_once_and_may_change_afterwards(scene, tmp_path, monkeypatch):
    (tmp_path / "hose.toml").write_text(HOSE)
    parse, calls = instrument.parse_bore, []
    monkeypatch.setattr(instrument, "parse_bore", lambda *a: calls.append(a) or parse(*a))
    more = '[[variant]]\nname = "cold"\nair.temperature_c = 5\n'
    read = scene(SWEEP.replace('name = "trumpet"', 'bore = "hose.toml"') + more)
    (tmp_path / "hose.toml").write_text("no bore at all")
    for variant in read.variants:
        build(variant.scene)
    assert build(read.replace({"air.temperature_c": 30})).spec.title == "Garden hose"
    assert len(calls) == 1
