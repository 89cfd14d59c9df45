"""Functions compiled by numba and kept between runs, whatever becomes of the files that keep them.

numba trusts its cache: a damaged file, a full disk or no folder to write in ends the program.
Here a file begins with its own digest.  What does not fit is compiled anew, and what cannot be
written is only slower the next time.  (Built on numba's own classes; checked with numba 0.68.)
"""

import hashlib
import os
import pickle
import tempfile
from contextlib import suppress
from functools import cache
from pathlib import Path

from numba import njit
from numba.core import config
from numba.core.caching import FunctionCache, IndexDataCacheFile
from numba.core.cpu import CPUTargetOptions
from numba.core.options import TargetOptions

# numba knows this flag, but has no option for it: the arrays that a function gets do not overlap.
# Without it each loop over six arrays would first compare their places, which costs as much as
# a dozen junctions.
CPUTargetOptions.noalias = TargetOptions.Mapping("noalias")
# No reference counts (nothing is allocated, and counting costs 5 ns a time); helpers are written
# into the loop, since as calls they cost three times what they compute.  No fastmath: results
# must not differ between machines.
OUTER = {"error_model": "numpy", "_nrt": False, "noalias": True}
INNER = {**OUTER, "inline": "always"}
DIGEST = 32  # bytes of SHA-256


class _Files(IndexDataCacheFile):
    """An index and the compiled code it names, each behind a digest of itself, of numba's version
    and of the source, that of the functions written into it too."""

    def _load_index(self):
        return self._read(self._index_path) or {}

    def _save_index(self, overloads):
        self._write(self._index_path, overloads)

    def _load_data(self, name):
        return self._read(self._data_path(name))

    def _save_data(self, name, data):
        self._write(self._data_path(name), data)

    def _digest(self, body: bytes) -> bytes:
        made_for = repr((self._version, self._source_stamp, _sources())).encode()
        return hashlib.sha256(made_for + body).digest()

    def _read(self, path):
        try:
            data = Path(path).read_bytes()
        except OSError:
            return None
        head, body = data[:DIGEST], data[DIGEST:]
        return pickle.loads(body) if head == self._digest(body) else None

    def _write(self, path, value):
        body = self._dump(value)
        with suppress(OSError), self._open_for_write(path) as file:
            file.write(self._digest(body) + body)


@cache
def _sources() -> bytes:
    """Digest of all that is compiled, this file's options too: numba looks at one file alone."""
    digest = hashlib.sha256(Path(__file__).read_bytes())
    for file in sorted(Path(__file__).parent.glob("*.py")):
        digest.update(file.read_bytes())
    return digest.digest()


class _Cache(FunctionCache):
    def __init__(self, function):
        super().__init__(function)
        stamp = self._impl.locator.get_source_stamp()
        self._cache_file = _Files(self._cache_path, self._impl.filename_base, stamp)


def compiled(**options):
    """`numba.njit` with these options, kept between runs where there is a place for it: numba's
    own choice (NUMBA_CACHE_DIR, beside the source, the user's cache folder), else TMPDIR."""

    def decorate(function):
        made = njit(**options)(function)
        if not config.DISABLE_JIT and (cache := _cache_of(function)) is not None:
            made._cache = cache
        return made

    return decorate


def _cache_of(function) -> _Cache | None:
    if not config.CACHE_DIR and os.path.expanduser("~") == "~":  # numba would make a folder "~"
        config.CACHE_DIR = _own_temporary()
    try:
        return _Cache(function)
    except RuntimeError:  # numba found no place
        config.CACHE_DIR = _own_temporary()
    with suppress(RuntimeError):
        return _Cache(function)
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
