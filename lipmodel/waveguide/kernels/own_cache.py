"""What numba has no public way for: checked files of compiled code, and arrays that are told apart.

numba trusts its cache: a damaged file or a full disk ends the program.  Here a file begins with its
own digest.  What does not fit is compiled anew, and what cannot be written is only slower the next
time.  Built on numba's private classes; checked with numba 0.68.
"""

import hashlib
import pickle
from contextlib import suppress
from functools import cache
from pathlib import Path

from numba.core.caching import FunctionCache, IndexDataCacheFile
from numba.core.cpu import CPUTargetOptions
from numba.core.options import TargetOptions

# numba knows this flag, but has no option for it: the arrays that a function gets do not overlap.
# Without it each loop over six arrays would first compare their places, which costs as much as
# a dozen junctions.
CPUTargetOptions.noalias = TargetOptions.Mapping("noalias")
DIGEST = 32  # bytes of SHA-256
listeners: list = []  # called when something has to be compiled


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


class OwnCache(FunctionCache):
    def __init__(self, function):
        super().__init__(function)
        stamp = self._impl.locator.get_source_stamp()
        self._cache_file = _Files(self._cache_path, self._impl.filename_base, stamp)

    def load_overload(self, signature, target):
        """The code kept for these types; None, told to who listens, where there is none yet."""
        code = super().load_overload(signature, target)
        if code is None:
            for tell in listeners:
                tell()
        return code
