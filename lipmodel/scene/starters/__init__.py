"""Commented starter files for `lipmodel new`."""

from pathlib import Path

from lipmodel.errors import SceneError
from lipmodel.files.schema import did_you_mean, one_of, quoted

KINDS = ("note", "slots", "compare", "tune", "bore", "lesson")
SCENES = ("snap", "bells", "stairs")  # of the lesson
HERE = Path(__file__).parent


def text(kind: str) -> str:
    """The text of a starter file; SceneError with the list for an unknown kind."""
    if kind not in KINDS:
        raise SceneError(f"{quoted(kind)}: expected {one_of(KINDS)}{did_you_mean(kind, KINDS)}")
    folder = HERE / kind if kind == "lesson" else HERE
    return (folder / f"{kind}.toml").read_text("utf-8")


def files(kind: str, stem: str) -> dict[str, str]:
    """Name and text of each file that a starter named `stem` consists of: a lesson has its scenes
    beside it, the other kinds are one file.

    >>> [*files("lesson", "harbour")]
    ['harbour.toml', 'harbour_snap.toml', 'harbour_bells.toml', 'harbour_stairs.toml']
    """
    named = {f"{stem}.toml": text(kind)}
    if '"' in stem or "\\" in stem or not stem.isprintable():
        stem = "scene"  # a name that a text in a file cannot hold
    if kind == "lesson":
        named |= {f"{stem}_{one}.toml": (HERE / kind / f"{one}.toml").read_text("utf-8")
                  for one in SCENES}  # fmt: skip
    return {name: written.replace("NAME", stem) for name, written in named.items()}
