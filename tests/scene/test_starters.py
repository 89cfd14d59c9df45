"""The starter files are good scenes, bores and lessons."""

import tomllib

import pytest
from support import scene_files

from lipmodel.bore.bore_file import parse_bore
from lipmodel.errors import SceneError
from lipmodel.scene import starters

scene = scene_files.scene  # the same fixture


@pytest.mark.parametrize("kind", ["note", "slots", "compare", "tune"])
def test_a_starter_is_a_good_scene(scene, kind):
    read = scene(starters.text(kind))
    assert read.title
    assert len(read.variants) == (3 if kind == "compare" else 1)


def test_the_other_starters_are_good_too():
    bore = parse_bore(tomllib.loads(starters.text("bore")), "bore.toml", ".")
    # a horn of three valves: every key that a class needs, each said in the file
    assert (bore.pitched_in, tuple(bore.valves.lengths_mm), bore.compass) == (
        "Bb", (1, 2, 3), ("E3", "Bb5"),
    )  # fmt: skip
    assert bore.tuning_slide_in_mm > 0
    lesson = tomllib.loads(starters.text("lesson"))
    assert list(lesson) == ["title", "intro", "scenes"]
    assert {f"{kind}.toml" for kind in starters.KINDS} >= set(lesson["scenes"])
    with pytest.raises(SceneError, match="did you mean slots"):
        starters.text("slot")
