"""Commented starter files for `lipmodel new`."""

from pathlib import Path

from lipmodel.errors import SceneError
from lipmodel.files.schema import did_you_mean, one_of, quoted

KINDS = ("note", "slots", "compare", "tune", "bore", "lesson")


def text(kind: str) -> str:
    """The text of a starter file; SceneError with the list for an unknown kind."""
    if kind not in KINDS:
        raise SceneError(f"{quoted(kind)}: expected {one_of(KINDS)}{did_you_mean(kind, KINDS)}")
    return (Path(__file__).parent / f"{kind}.toml").read_text("utf-8")
