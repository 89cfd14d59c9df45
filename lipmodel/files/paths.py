"""Which files a file may name, and how much of any file is read: scenes come from anywhere.

A scene, bore or lesson file names other files inside its own folder (`FileContext.root`) only, also
through links; `outside_allowed` lifts that for whoever trusts the file.  No file is read that is
not a plain one, nor more of it than its kind ever needs.
"""

from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from pathlib import Path, PureWindowsPath

from lipmodel.errors import SceneError

LONGEST_NAME = 500  # letters; the system takes minutes to follow a million folders
LARGEST_FILE = 4_000_000  # bytes; a scene or bore file has some thousand
_named: ContextVar[list | None] = ContextVar("named", default=None)
_anywhere: ContextVar[bool] = ContextVar("anywhere", default=False)


@dataclass(frozen=True, slots=True)
class FileContext:
    """Where a file is: its path as given, its folder, and the folder it may name files in.

    `root` None: it may name any file.
    """

    path: str
    folder: Path
    root: Path | None


def place_of(path, root: Path) -> FileContext:
    """Place of the file at `path`, which may name files in `root`."""
    return FileContext(str(path), Path(path).parent, None if _anywhere.get() else root)


@contextmanager
def outside_allowed(allowed: bool = True):
    """Files read within may name any file, by absolute paths too."""
    token = _anywhere.set(allowed)
    try:
        yield
    finally:
        _anywhere.reset(token)


def file_beside(name: str, place: FileContext, words: str) -> Path:
    """The file `name` (relative to the folder of `place`); ValueError with the sentence if it
    is absolute, leaves `place.root` (also by a link) or is not there.  `words`: that folder."""
    windows = PureWindowsPath(name)
    if not name or "\0" in name or len(name) > LONGEST_NAME:
        raise ValueError("expected the name of a file")
    absolute = bool(Path(name).is_absolute() or windows.drive or windows.root)
    if absolute and place.root is not None:
        raise ValueError("absolute path; expected a path that starts at this file's folder")
    path = place.folder / name.replace("\\", "/")
    try:
        if place.root is not None and not path.resolve().is_relative_to(place.root.resolve()):
            raise ValueError(f"outside {words}; expected a file inside it, or --allow-outside")
        there = path.is_file()
    except (OSError, RuntimeError):  # links that go round, a name too long for the system
        there = False
    if not there:
        raise ValueError("no such file; expected a path that starts at this file's folder")
    if (named := _named.get()) is not None:
        named.append(path)
    return path


@contextmanager
def files_named():
    """A list of the files that files name, as they are read within."""
    found: list[Path] = []
    token = _named.set(found)
    try:
        yield found
    finally:
        _named.reset(token)


def read_bytes(path, most: int, kind: str) -> bytes:
    """All of a plain file of up to `most` bytes; `kind` is "a TOML file" in the sentence.

    SceneError, one line that names the file, for a folder, a pipe, a device, a file that is not
    there, cannot be read or is larger, before any of it is read.
    """
    path = Path(path)
    try:
        if path.is_dir():
            raise SceneError(f"{path}: is a folder; expected a file")
        if not path.is_file():  # a pipe would wait for ever, a device never end
            other = "not a plain file" if path.exists() else "no such file"
            raise SceneError(f"{path}: {other}")
        with path.open("rb") as file:
            data = file.read(most + 1)  # what grows while it is read is no larger for us
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "not the name of a file"
        raise SceneError(f"{path}: cannot be read: {reason}") from error
    if len(data) > most:
        raise SceneError(f"{path}: over {most // 1_000_000} MB; expected {kind}")
    return data
