"""What is being made lies aside, under a hidden name, until it is whole.

Such a name, `.NAME.lipmodel-XXXXXXXX`, is locked while its process lives: the system lets go of
the lock whatever ends the process.  Who makes NAME again clears away what nobody holds.  Where
there are no such locks (Windows, some network disks) nothing is cleared away.
"""

import os
import shutil
import tempfile
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path

from lipmodel.errors import SceneError, check_stop

try:
    import fcntl
except ImportError:
    fcntl = None


MARK = ".lipmodel-"
DRAWN = 8  # characters that tempfile draws


def _prefix(name: str) -> str:
    return f".{name}{MARK}"


def clear(parent: Path, name: str):
    """Remove what was left aside for `name` in the folder `parent` by processes that ended."""
    if fcntl is None:
        return
    start = _prefix(name)
    with suppress(OSError):
        for left in os.listdir(parent):
            if left.startswith(start) and len(left) == len(start) + DRAWN:
                with suppress(OSError):
                    _remove_if_left(Path(parent) / left)


def _remove_if_left(path: Path):
    handle = os.open(path, os.O_RDONLY | os.O_NOFOLLOW)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)  # OSError: its process lives
        _remove(path)
    finally:
        os.close(handle)


def _remove(path: Path):
    if path.is_dir():
        shutil.rmtree(path, ignore_errors=True)
    else:
        path.unlink(missing_ok=True)


def _locked(path: Path, handle: int) -> bool:
    """Lock what was just made; False where `clear` of another process was quicker."""
    with suppress(OSError):  # a disk without locks
        fcntl.flock(handle, fcntl.LOCK_EX)
    with suppress(FileNotFoundError):
        return os.path.samestat(os.stat(path), os.fstat(handle))
    return False


def _new_folder(parent: Path, name: str) -> tuple[Path, int | None]:
    """A folder aside and what holds its lock."""
    while True:
        path = Path(tempfile.mkdtemp(prefix=_prefix(name), dir=parent))
        if fcntl is None:
            return path, None
        with suppress(FileNotFoundError):  # cleared away already
            handle = os.open(path, os.O_RDONLY)
            if _locked(path, handle):
                return path, handle
            os.close(handle)


def _new_file(parent: Path, name: str) -> tuple[int, str]:
    """An open file aside, locked, and its path."""
    while True:
        handle, made = tempfile.mkstemp(prefix=_prefix(name), dir=parent)
        if fcntl is None or _locked(made, handle):
            return handle, made
        os.close(handle)


@contextmanager
def temporary_folder(parent: Path, name: str):
    """A new folder in `parent`, for `name`; removed at the end if it is still there.  OSError."""
    clear(parent, name)
    path, handle = _new_folder(parent, name)
    try:
        yield path
    finally:
        shutil.rmtree(path, ignore_errors=True)
        if handle is not None:
            os.close(handle)


def write_atomic(path: Path, data: bytes, name: str | None = None):
    """The file at `path`, complete or absent; made aside for `name` (`path`'s own).  OSError."""
    name = name or path.name
    clear(path.parent, name)
    handle, made = _new_file(path.parent, name)
    try:
        _fill(handle, made, path, data)
    except BaseException:
        with suppress(OSError):
            os.unlink(made)
        raise


def _fill(handle: int, made: str, path: Path, data: bytes):
    with os.fdopen(handle, "wb") as file:
        file.write(data)
        file.flush()
        os.chmod(made, 0o644)
        check_stop()
        if fcntl:  # in place while still locked; elsewhere an open file cannot be moved
            os.replace(made, path)
    if not fcntl:
        os.replace(made, path)


@contextmanager
def scratch():
    """A folder for what is not kept, in the system's place for such (TMPDIR).

    SceneError where there is no room for one.
    """
    with ExitStack() as stack:
        try:
            place = Path(tempfile.gettempdir())
            path = stack.enter_context(temporary_folder(place, "scratch")) / "inside"
            path.mkdir()  # the folder itself is locked, and takes are put in place in here
        except OSError as error:
            raise SceneError(
                f"TMPDIR: no folder for scratch files can be made ({error.strerror or error}); "
                "expected a folder with room"
            ) from error
        yield path


def free_on_disk(folder: Path) -> int:
    """Bytes that can still be written there."""
    return shutil.disk_usage(folder).free
