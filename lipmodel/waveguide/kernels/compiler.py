"""Functions compiled by numba and kept between runs, whatever becomes of their files."""

import os
import tempfile
from contextlib import contextmanager, suppress
from pathlib import Path

from numba import config, njit

try:
    from lipmodel.waveguide.kernels.own_cache import OwnCache, listeners
except (ImportError, AttributeError, TypeError):  # a numba with other insides
    OwnCache, listeners = None, []  # compiled in each process, and slower; the same sound

# No reference counts (nothing is allocated, and counting costs 5 ns a time); helpers are written
# into the loop, since as calls they cost three times what they compute.  No fastmath: results
# must not differ between machines.
OUTER = {"error_model": "numpy"} | ({"_nrt": False, "noalias": True} if OwnCache else {})
INNER = {**OUTER, "inline": "always"}


@contextmanager
def when_compiling(tell):
    """`tell` is called, once, if something has to be compiled in here; without files of compiled
    code, at once."""
    told = []

    def once():
        if not told:
            told.append(True)
            tell()

    if OwnCache is None:
        once()
    listeners.append(once)
    try:
        yield
    finally:
        listeners.remove(once)


def compiled(**options):
    """`numba.njit` with these options, kept between runs where there is a place for it: numba's
    own choice (NUMBA_CACHE_DIR, beside the source, the user's cache folder), else TMPDIR."""

    def decorate(function):
        made = njit(**options)(function)
        if OwnCache and not config.DISABLE_JIT and (cache := _cache_of(function)) is not None:
            made._cache = cache
        return made

    return decorate


def _cache_of(function):
    """A place for its code, None without one."""
    if not config.CACHE_DIR and os.path.expanduser("~") == "~":  # numba would make a folder "~"
        config.CACHE_DIR = _own_temporary()
    try:
        return OwnCache(function)
    except RuntimeError:  # numba found no place
        config.CACHE_DIR = _own_temporary()
    with suppress(RuntimeError):
        return OwnCache(function)
    return None


def _own_temporary() -> str:
    """A folder for temporary files that nobody else can write code into; "" without one."""
    user = os.getuid() if hasattr(os, "getuid") else None
    with suppress(OSError):
        path = Path(tempfile.gettempdir()) / f"lipmodel-{user or 0}"
        path.mkdir(mode=0o700, exist_ok=True)
        known = path.lstat()
        if user is None or (known.st_uid == user and not known.st_mode & 0o022):
            return str(path)
    return ""
