"""Traces too long for memory: kept in a file without a name, written and read in pieces.

A `Trace` is sliced like an array of floats; what a slice gives is an array.  Who works through
one takes `pieces`.  The file has no name from the start, so that nothing is left of it whatever
ends the process.  Read and not mapped: pages of a map count as memory until they are needed
elsewhere.
"""

import tempfile
from contextlib import contextmanager

import numpy as np

from lipmodel.errors import check_stop

HELD = 3_000_000  # samples: a longer trace is kept in a file
PIECE = 1 << 18  # samples worked on at once
BYTES = 8  # a sample


def pieces(n: int, size: int = PIECE):
    """Slices that together are the first `n` samples; between two a stop is answered."""
    for first in range(0, n, size):
        check_stop()
        yield slice(first, min(first + size, n))


def portions(n: int):
    """What is worked on at once of `n` samples: all of a short trace, pieces of a long one."""
    return pieces(n) if n > HELD else pieces(n, HELD)


class Trace:
    """`n` samples, float, from `offset` bytes on in an open file; zeros until they are written."""

    def __init__(self, file, offset: int, n: int):
        self._file, self._offset, self._n = file, offset, n

    def __len__(self):
        return self._n

    @property
    def shape(self):
        return (self._n,)

    def _read(self, first, last):
        data = bytearray(BYTES * (last - first))
        view = memoryview(data)
        self._file.seek(self._offset + BYTES * first)
        while view and (count := self._file.readinto(view)):  # what was never written is zero
            view = view[count:]
        return np.frombuffer(data, float)

    def __getitem__(self, key):
        if isinstance(key, slice):
            first, last, step = key.indices(self._n)
            if step == 1:
                return self._read(first, max(first, last))
            return self[np.arange(first, last, step)]
        places = np.asarray(key)
        if places.ndim == 0:
            place = int(places) + (self._n if places < 0 else 0)
            if not 0 <= place < self._n:
                raise IndexError(f"{int(places)}: a trace of {self._n} samples")
            return self._read(place, place + 1)[0]
        found = np.empty(len(places))
        for part in pieces(self._n):
            here = (places >= part.start) & (places < part.stop)
            if np.any(here):
                found[here] = self._read(part.start, part.stop)[places[here] - part.start]
        return found

    def __setitem__(self, part: slice, values):
        first, last, step = part.indices(self._n)
        data = memoryview(np.ascontiguousarray(np.broadcast_to(values, (last - first,)), float))
        if step != 1:
            raise ValueError("a trace is written without gaps")
        view = data.cast("B")
        self._file.seek(self._offset + BYTES * first)
        while view:
            view = view[self._file.write(view) :]

    def __array__(self, dtype=None, copy=None):
        return np.asarray(self._read(0, self._n), dtype)


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


class MemoryRoom:
    """Room for traces in memory."""

    def begin_again(self):
        pass

    def trace(self, n: int):
        return np.zeros(n)


class FileRoom:
    """Room for traces in a file; `begin_again` puts new traces over the old ones, `close` gives
    the room back."""

    def __init__(self, folder):
        self._file = tempfile.TemporaryFile(dir=folder, buffering=0)  # noqa: SIM115 - `close`
        self._end = 0

    def trace(self, n: int) -> Trace:
        made = Trace(self._file, self._end, n)
        self._end += BYTES * n
        return made

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
