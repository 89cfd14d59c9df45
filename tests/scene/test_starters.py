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
    named = starters.files("lesson", "harbour")
    lesson = tomllib.loads(named.pop("harbour.toml"))
    assert list(lesson) == ["title", "intro", "scenes"]
    assert lesson["scenes"] == [*named]
    with pytest.raises(SceneError, match="did you mean slots"):
        starters.text("slot")


def test_the_scenes_of_the_lesson_ask_with_answers_to_choose_from(scene):
    for text in [*starters.files("lesson", "harbour").values()][1:]:
        read = scene(text)
        assert len(read.choices) == 3
        assert read.right
        assert read.answer
        assert read.reason


def test_a_name_that_would_end_a_text_leads_no_scene():
    named = starters.files("lesson", 'the "harbour"')
    assert [*named][1] == "scene_snap.toml"
    (lesson, *_) = named.values()
    assert tomllib.loads(lesson)["scenes"][0] == "scene_snap.toml"
