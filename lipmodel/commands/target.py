"""Where a command writes."""

from pathlib import Path

from lipmodel.errors import SceneError

RENDERS = Path("renders")


def folder(given: str | None, name: str) -> Path:
    """The folder that `--out` names, else renders/NAME."""
    return Path(given or RENDERS / name)


def file(given: str | None, name: str, *kinds: str) -> Path:
    """The file that `--out` names, else renders/NAME; SceneError unless it ends in one of
    `kinds`, the first of which is told."""
    target = Path(given or RENDERS / name)
    if target.suffix.lower() not in kinds or target.is_dir():
        raise SceneError(f"--out {target}: expected the name of a file that ends in {kinds[0]}")
    return target
