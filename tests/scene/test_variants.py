"""Variants: what they replace, and how their names become folders."""

import pytest
from support import scene_files
from support.scene_files import HOSE, SWEEP

from lipmodel.scene.variants import merge, slug

scene = scene_files.scene  # the same fixture


def test_the_first_variant_is_the_scene_itself(scene):
    read = scene(SWEEP)
    assert [(v.name, v.scene, v.changed) for v in read.variants] == [("as written", read, ())]


def test_a_variant_replaces_only_its_own_keys(scene):
    more = """
    [[variant]]
    name = "No bell, warm"
    instrument.bell = "none"
    air.temperature_c = 30
    player.pressure_kpa = 5.0
    """
    read = scene(SWEEP + more)
    _, warm = read.variants
    assert warm.folder == "no-bell-warm"
    assert warm.changed == ("instrument.bell: as written -> none", "air.temperature_c: 22 -> 30")
    assert warm.scene.inputs()["player"] == read.inputs()["player"]
    assert [s.label for s in warm.scene.spec().section] == ["mouthpiece", "leadpipe", "cylinder"]
    assert [s.label for s in read.spec().section][-1] == "bell"
    assert warm.scene.path == read.path
    assert read.variants[0].scene.air.temperature_c == 22.0


def test_a_variant_may_put_one_way_of_saying_it_for_another(scene, tmp_path):
    (tmp_path / "hose.toml").write_text(HOSE)
    more = """
    [[variant]]
    name = "hose"
    instrument.bore = "hose.toml"
    player.tune = "C4 1"
    """
    _, hose = scene(SWEEP + more).variants
    assert hose.scene.spec().title == "Garden hose"
    assert hose.scene.instrument.name is None
    assert hose.scene.player.tension_hz is None
    assert hose.changed[0] == "instrument.bore: trumpet -> hose.toml"


def test_merging_leaves_what_it_was_given_alone():
    data = {"air": {"breath": True, "co2_percent": 1}, "title": "a"}
    merged = merge(data, {"air": {"breath": False}})
    assert merged == {"air": {"breath": False, "co2_percent": 1}, "title": "a"}
    assert data["air"]["breath"] is True


SLUGS = {"No bell!": "no-bell", "  Übung 3/4 ": "ubung-3-4", "a__b": "a-b", "!!": "", "../x": "x"}


@pytest.mark.parametrize("written", SLUGS)
def test_a_variant_name_becomes_a_folder_name(written):
    assert slug(written) == SLUGS[written]
