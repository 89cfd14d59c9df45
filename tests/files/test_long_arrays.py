"""Traces in pieces, in a file without a name."""

import os
import re
from pathlib import Path

import numpy as np
import pytest
from support.processes import refuse

from lipmodel.files import long_arrays
from lipmodel.files.long_arrays import (
    FileRoom,
    TimeAxis,
    Trace,
    pieces,
    portions,
    room_for,
)


@pytest.fixture
def room(tmp_path):
    made = FileRoom(tmp_path)
    yield made
    made.close()


def test_traces_of_one_file_keep_apart_what_is_written_in_pieces(room):
    values = np.random.default_rng(3).normal(size=(3, 1000))
    traces = [room.trace(1000) for _ in values]
    for part in pieces(1000, 300):
        for trace, row in zip(traces, values, strict=True):
            trace[part] = row[part]
    for trace, row in zip(traces, values, strict=True):
        np.testing.assert_array_equal(np.asarray(trace), row)
        for key in (slice(5, 20), slice(-20, None), slice(0, 1000, 7), -1, np.array([3, 900, 3])):
            np.testing.assert_array_equal(trace[key], row[key])
    assert (len(traces[0]), traces[0].shape) == (1000, (1000,))
    assert long_arrays.peak(traces[0]) == np.abs(values[0]).max()
    assert long_arrays.minimum(traces[0]) == values[0].min()


def test_what_was_not_written_is_zero(room):
    found = room.trace(100)
    found[10:20] = 2.5
    assert np.sum(found[:]) == 25.0


def test_a_second_take_lies_over_the_first(room):
    first = room.trace(100)
    first[:] = 1.0
    room.begin_again()
    room.trace(100)[:] = 2.0
    room.trace(50)[:] = -2.0
    assert set(first[:]) == {2.0}


def test_a_full_disk_is_found_when_room_is_taken(room, monkeypatch):
    monkeypatch.setattr(os, "posix_fallocate", refuse)
    with pytest.raises(OSError, match="No space left"):
        room.trace(100)


@pytest.mark.skipif(not Path("/proc/self/smaps").exists(), reason="reads /proc")
def test_what_was_worked_on_counts_as_memory_no_longer(room):
    def resident():
        return int(re.search(r"VmRSS:\s*(\d+)", Path("/proc/self/status").read_text())[1])

    trace = room.trace(4_000_000)  # 31 250 kB
    before = resident()
    for part in pieces(len(trace)):
        trace[part] = 1.0
        assert trace[part].min() == 1.0
        assert resident() - before < 10_000  # a piece has 2048 kB, a copy of it too


def test_nothing_of_it_is_seen_in_the_folder(room, tmp_path):
    room.trace(1000)[:] = 1.0
    assert os.listdir(tmp_path) == []


def test_short_traces_stay_in_memory(tmp_path):
    with room_for(long_arrays.HELD, tmp_path) as room:
        assert isinstance(room.trace(10), np.ndarray)
    with room_for(long_arrays.HELD + 1, tmp_path) as room:
        assert isinstance(room.trace(10), Trace)


def test_portions_are_the_whole():
    assert list(portions(10)) == [slice(0, 10)]
    n = long_arrays.HELD + 1
    covered = np.concatenate([[p.start, p.stop] for p in portions(n)])
    assert covered[0] == 0
    assert covered[-1] == n
    np.testing.assert_array_equal(covered[1:-1:2], covered[2::2])


def test_times_that_are_never_made_are_those_that_are():
    times = np.arange(1000) / 44_100
    even = TimeAxis(1000, 44_100)
    np.testing.assert_array_equal(even[:], times)
    np.testing.assert_array_equal(even[10:500:7], times[10:500:7])
    np.testing.assert_array_equal(even[np.array([3, 999])], times[[3, 999]])
    assert even[7] == times[7]
