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
TOGETHER = 4  # scenes of one section, on one axis


def _names(value):
    """Sections: one scene file each, or a list of those that are compared on one axis."""
    if not isinstance(value, list) or not all(isinstance(one, str | list) for one in value):
        raise ValueError("expected a list of scene files")
    sections = [one if isinstance(one, list) else [one] for one in value]
    for names, one in zip(sections, value, strict=True):
        if not all(isinstance(name, str) for name in names):
            raise ValueError("expected a list of scene files")
        if isinstance(one, list) and not 2 <= len(names) <= TOGETHER:
            told = f"expected 2 to {TOGETHER} scene files in a list that compares them"
            raise ValueError(f"{told}, found {len(names)}")
    if not 1 <= sum(map(len, sections)) <= MOST_SCENES:
        raise ValueError(f"expected 1 to {MOST_SCENES} scene files")
    return tuple(map(tuple, sections))


class LessonFile(Table):
    """A whole lesson file."""

    title: text() = ""
    intro: text() = ""
    scenes: parsed(tuple[tuple[str, ...], ...], _names, "a list of scene files")

    @classmethod
    def rules(cls, data, place):
        found = []
        for loc, name in _each(data.get("scenes")):
            try:
                paths.file_beside(name, place, "the lesson's folder")
            except ValueError as error:
                found.append(Problem(("scenes", *loc), name, str(error)))
        return found


def _each(sections):
    """(place, name) of each scene file, up to MOST_SCENES, of a list that may be wrong."""
    for i, one in enumerate(sections[:MOST_SCENES] if isinstance(sections, list) else []):
        names = one[:MOST_SCENES] if isinstance(one, list) else [one]
        for j, name in enumerate(names):
            if isinstance(name, str):
                yield ((i, j) if isinstance(one, list) else (i,)), name


@dataclass(frozen=True)
class Lesson:
    """What a page is made from: plain texts, and the scene files of each section in order."""

    title: str
    intro: str
    sections: tuple[tuple[Path, ...], ...]

    @property
    def scenes(self) -> tuple[Path, ...]:
        """All scene files, section by section."""
        return tuple(path for section in self.sections for path in section)


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
    sections = tuple(
        tuple(folder / name.replace("\\", "/") for name in names) for names in file.scenes
    )
    return Lesson(file.title or Path(path).stem, file.intro, sections)
