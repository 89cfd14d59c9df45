"""Traces too long for memory: kept in a file without a name, written and read in pieces.

A `Trace` is indexed like an array of floats; what that gives is a copy.  Who works through one
takes `pieces`.  The file has no name from the start, so that nothing is left of it whatever ends
the process.  Pages of a map count as memory until they are needed elsewhere: they are let go each
time.
"""

import mmap
import os
import tempfile
from contextlib import contextmanager

import numpy as np

from lipmodel.errors import check_stop

HELD = 3_000_000  # samples: a longer trace is kept in a file
PIECE = 1 << 18  # samples worked on at once
BYTES = 8  # a sample
SCATTERED = 64  # places read at once: the system maps 64 kB around each


def pieces(n: int, size: int = PIECE):
    """Slices that together are the first `n` samples; between two a stop is answered."""
    for first in range(0, n, size):
        check_stop()
        yield slice(first, min(first + size, n))


def portions(n: int):
    """What is worked on at once of `n` samples: all of a short trace, pieces of a long one."""
    return pieces(n) if n > HELD else pieces(n, HELD)


class Trace:
    """`n` samples, float, from `offset` bytes on (a multiple of the system's own step) in an open
    file; zeros until they are written."""

    def __init__(self, file, offset: int, n: int):
        self._map = mmap.mmap(file.fileno(), BYTES * n, offset=offset)
        self._values = np.frombuffer(self._map, float)
        self.shape = self._values.shape

    def __len__(self):
        return len(self._values)

    def __getitem__(self, key):
        if isinstance(key, slice) and key.step is not None:
            key = np.arange(*key.indices(len(self)))
        if not np.ndim(key):
            return self._read(key)
        parts = np.array_split(key, len(key) // SCATTERED + 1)
        return np.concatenate([self._read(part) for part in parts])

    def _read(self, key):
        found = np.array(self._values[key])
        self._let_go()
        return found

    def __setitem__(self, part: slice, values):
        self._values[part] = values
        self._let_go()

    def __array__(self, dtype=None, copy=None):
        return np.asarray(self[:], dtype)

    def _let_go(self):
        if hasattr(mmap, "MADV_DONTNEED"):  # elsewhere the system takes pages when it needs them
            self._map.madvise(mmap.MADV_DONTNEED)


class TimeAxis:
    """Times in s of `n` samples at `rate`, sliced like an array that is never made."""

    def __init__(self, n: int, rate: float):
        self._n, self._rate = n, rate

    def __len__(self):
        return self._n

    def __getitem__(self, key):
        if isinstance(key, slice):
            return np.arange(*key.indices(self._n)) / self._rate
        return np.asarray(key) / self._rate


class Columns:
    """Traces of one length side by side; a slice gives an array of shape (m, traces)."""

    def __init__(self, traces):
        self._traces = tuple(traces)

    def __len__(self):
        return len(self._traces[0])

    def __getitem__(self, part: slice):
        return np.column_stack([trace[part] for trace in self._traces])


class MemoryRoom:
    """Room for traces in memory."""

    def begin_again(self):
        pass

    def trace(self, n: int):
        return np.zeros(n)


class FileRoom:
    """Room for traces in a file; `begin_again` puts new traces over the old ones, `close` gives
    the room back when the last of them is gone."""

    def __init__(self, folder):
        self._file = tempfile.TemporaryFile(dir=folder)  # noqa: SIM115 - `close`
        self._end = 0

    def trace(self, n: int) -> Trace:
        """OSError where the disk is full: later, with a hole in the file, that would end the
        process."""
        begin, size = self._end, BYTES * n
        self._end += -(-size // mmap.ALLOCATIONGRANULARITY) * mmap.ALLOCATIONGRANULARITY
        if hasattr(os, "posix_fallocate"):
            os.posix_fallocate(self._file.fileno(), begin, size)
        else:
            self._file.truncate(max(self._end, os.fstat(self._file.fileno()).st_size))
        return Trace(self._file, begin, n)

    def begin_again(self):
        self._end = 0

    def close(self):
        self._file.close()


@contextmanager
def room_for(n: int, folder):
    """Room for traces of `n` samples: in memory while they are short, else in `folder`."""
    if n <= HELD:
        yield MemoryRoom()
        return
    spool = FileRoom(folder)
    try:
        yield spool
    finally:
        spool.close()


def peak(trace) -> float:
    """Largest magnitude in a trace, 0 for none."""
    return max((float(np.max(np.abs(trace[part]))) for part in pieces(len(trace))), default=0.0)


def minimum(trace) -> float:
    """Smallest value of a trace."""
    return min(float(np.min(trace[part])) for part in pieces(len(trace)))
