"""Lesson files: a title, a word before, and the scenes of a class in their order."""

from dataclasses import dataclass
from pathlib import Path

from pydantic import ValidationError

from lipmodel.errors import SceneError
from lipmodel.files import paths, schema, toml
from lipmodel.files.paths import place_of
from lipmodel.files.schema import Problem, Table, parsed, text
from lipmodel.scene.scene import project_folder

MOST_SCENES = 40


def _names(value):
    if not isinstance(value, list) or not all(isinstance(name, str) for name in value):
        raise ValueError("expected a list of scene files")
    if not 1 <= len(value) <= MOST_SCENES:
        raise ValueError(f"expected 1 to {MOST_SCENES} scene files")
    return tuple(value)


class LessonFile(Table):
    """A whole lesson file."""

    title: text() = ""
    intro: text() = ""
    scenes: parsed(tuple[str, ...], _names, "a list of scene files")

    @classmethod
    def rules(cls, data, place):
        names = data.get("scenes")
        found = []
        for i, name in enumerate(names[:MOST_SCENES] if isinstance(names, list) else []):
            if isinstance(name, str):
                try:
                    paths.file_beside(name, place, "the lesson's folder")
                except ValueError as error:
                    found.append(Problem(("scenes", i), name, str(error)))
        return found


@dataclass(frozen=True)
class Lesson:
    """What a page is made from: plain texts, and the scene files in order."""

    title: str
    intro: str
    scenes: tuple[Path, ...]


def is_lesson(data: dict) -> bool:
    """Whether the tables of a file are those of a lesson."""
    return "scenes" in data and "instrument" not in data


def read_lesson(path) -> Lesson:
    """The lesson file at `path`; its scenes are looked for, not read.

    SceneError with every problem at once.  A scene's file lies in the lesson's project folder:
    the nearest parent that holds lesson.toml or pyproject.toml.
    """
    data = toml.load(path)
    folder = Path(path).parent
    place = place_of(path, project_folder(folder))
    try:
        file = LessonFile.model_validate(data, context=place)
    except ValidationError as error:
        raise SceneError(schema.problems(error, path, data)) from error
    scenes = tuple(folder / name.replace("\\", "/") for name in file.scenes)
    return Lesson(file.title or Path(path).stem, file.intro, scenes)
