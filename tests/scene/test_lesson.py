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
