"""The only writer: folders that are complete or absent."""

import errno
import os
from contextlib import contextmanager, suppress
from pathlib import Path

from lipmodel.errors import SceneError, check_stop
from lipmodel.files.atomic import free_on_disk, temporary_folder, write_atomic
from lipmodel.files.long_arrays import HELD, room_for

PREVIOUS = ".previous"
# first part of the names of the files that are written here
KNOWN_NAMES = {
    "sound",
    "pair",
    "bores",
    "energy",
    "pedal",
    "mirror",
    "dynamics",
    "directivity",
    "steadiness",
    "field",
    "waves",
    "echo",
    "chart",
    "why",
    "listen",
    "picture",
    "traces",
    "report",
    "impedance",
    "resonances",
    "slots",
    "sweep",
    "map",
    "as_held",
    "remedy",
    "compare",
    "blind",
}
# what a rename says when another process was quicker
CROSSED = {errno.ENOENT, errno.EEXIST, errno.ENOTEMPTY}
TRIES = 100
BYTES_ON_DISK = 150  # a sample of a long take: eleven traces aside, seven to keep, the sound


@contextmanager
def folder_written(target: Path):
    """A folder to fill; renamed to `target` when all went well, removed when not.

    What was there before is kept as `NAME.previous`.  SceneError names what could not be written.
    """
    target = Path(target)
    try:
        refuse_to_replace(target)
        target.parent.mkdir(parents=True, exist_ok=True)
        with temporary_folder(target.parent, target.name) as work:
            work.chmod(0o755)
            yield work
            with temporary_folder(target.parent, target.name) as oldest:
                check_stop()
                _put_in_place(work, target, oldest)
    except OSError as error:
        raise SceneError(_told(target, error)) from error


@contextmanager
def room_beside(target: Path, n: int):
    """Room for the traces, of `n` samples, of a take that will be written to `target`: long ones
    lie in a file there.  SceneError where the disk is too full for them and for the take."""
    try:
        if n > HELD:
            target.parent.mkdir(parents=True, exist_ok=True)
            need, free = n * BYTES_ON_DISK, free_on_disk(target.parent)
            if need > free:
                raise SceneError(
                    f"{target}: needs about {need / 1e9:.3g} GB on disk while it is made, "
                    f"{free / 1e9:.3g} GB are free; expected a shorter sound or a lower rate_hz"
                )
        with room_for(n, target.parent) as room:
            yield room
    except OSError as error:
        raise SceneError(_told(target, error)) from error


def refuse_to_replace(target: Path):
    """SceneError where the folder holds what was not written here: it would be lost with the
    take after next."""
    try:
        here = Path.cwd()
    except OSError as error:  # it was removed under our feet
        raise SceneError(_told(target, error)) from error
    if Path(os.path.realpath(target)) in (here, *here.parents):
        raise SceneError(f"{target}: holds the folder you are in; expected the name of a new one")
    for folder in (target, target.with_name(target.name + PREVIOUS)):
        foreign = sorted(name for name in _inside(folder) if name.split(".")[0] not in KNOWN_NAMES)
        if foreign:
            raise SceneError(
                f"{folder}: holds other files ({foreign[0]}); expected a new folder or one that "
                "lipmodel wrote"
            )


def _inside(folder: Path) -> list[str]:
    """Names in a folder; none where there is none (any more)."""
    if not os.path.isdir(folder):
        return []
    try:
        return os.listdir(folder)
    except FileNotFoundError:  # another process puts its own in place
        return []
    except OSError as error:
        raise SceneError(_told(folder, error)) from error


def _put_in_place(work: Path, target: Path, oldest: Path):
    """`work` becomes `target`, that becomes `.previous`, and that goes to `oldest`: or nothing
    has moved.  Where another process puts its own in place meanwhile, once more."""
    for number in range(TRIES):
        try:
            return _moved(work, target, oldest / str(number))
        except OSError as error:
            if error.errno not in CROSSED or number == TRIES - 1:
                raise
    return None


def _moved(work: Path, target: Path, oldest: Path):
    previous = target.with_name(target.name + PREVIOUS)
    moves = [(work, target)]
    if target.is_dir():
        moves.insert(0, (target, previous))
        if previous.is_dir() and not previous.is_symlink():
            moves.insert(0, (previous, oldest))
    done = []
    try:
        for old, new in moves:
            os.rename(old, new)
            done.append((old, new))
    except BaseException:
        for old, new in reversed(done):
            with suppress(OSError):  # another process has filled the place
                os.rename(new, old)
        raise


def _told(target, error: OSError) -> str:
    reason = error.strerror or str(error)
    return f"{target}: cannot be written ({reason}); nothing was left half-written"


def write_bytes(path: Path, data: bytes):
    """A single file, complete or absent."""
    path = Path(path)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        write_atomic(path, data)
    except OSError as error:
        raise SceneError(_told(path, error)) from error
