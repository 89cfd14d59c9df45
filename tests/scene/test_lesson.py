"""Lesson files that are wrong, and what is said of them."""

import pytest

from lipmodel.errors import SceneError
from lipmodel.scene.lesson import read_lesson


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("scenes = 3\n", "scenes = 3: expected a list of scene files"),
        ("scenes = []\n", "scenes = []: expected 1 to 40 scene files"),
        ('scenes = ["missing.toml"]\n', 'scenes[1] = "missing.toml": no such file'),
        ('scenes = ["../one.toml"]\n', "outside the lesson's folder"),
        ('scenes = [["../one.toml"]]\n', "expected 2 to 4 scene files in a list"),
        ('scenes = [["lesson.toml", "x.toml"]]\n', 'scenes[1][2] = "x.toml": no such file'),
        ('scenes = ["lesson.toml", ["lesson.toml", 3]]\n', "expected a list of scene files"),
        ('scenes = ["lesson.toml"]\ncolour = 1\n', "colour: unknown key"),
    ],
)
def test_a_lesson_file_that_is_wrong_is_refused(tmp_path, text, told):
    (tmp_path / "one.toml").write_text("", encoding="utf-8")
    folder = tmp_path / "class"
    folder.mkdir()
    path = folder / "lesson.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(SceneError) as caught:
        read_lesson(path)
    assert told in str(caught.value)


def test_scenes_in_a_list_are_one_section(tmp_path):
    for name in ("a", "b", "c"):
        (tmp_path / f"{name}.toml").write_text("", encoding="utf-8")
    path = tmp_path / "lesson.toml"
    path.write_text('scenes = ["a.toml", ["b.toml", "c.toml"]]\n', encoding="utf-8")
    lesson = read_lesson(path)
    assert [[p.stem for p in section] for section in lesson.sections] == [["a"], ["b", "c"]]
    assert [p.stem for p in lesson.scenes] == ["a", "b", "c"]
