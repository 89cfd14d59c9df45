"""Traces in pieces, in a file without a name."""

import os

import numpy as np
import pytest

from lipmodel.files import long_arrays
from lipmodel.files.long_arrays import FileRoom, TimeAxis, Trace, pieces, portions, room_for


@pytest.fixture
def values():
    return np.random.default_rng(3).normal(size=1000)


@pytest.fixture
def trace(tmp_path, values):
    kept = FileRoom(tmp_path)
    kept.trace(17)
    found = kept.trace(len(values))
    for part in pieces(len(values), 300):
        found[part] = values[part]
    yield found
    kept.close()


@pytest.mark.parametrize(
    "key",
    [
        slice(None), slice(5, 20), slice(-20, None), slice(40, 40), slice(900, 5000),
        slice(0, 1000, 7), 0, 999, -1, np.array([3, 900, 3, 17]), np.array([], int),
    ],
)  # fmt: skip
def test_a_trace_is_sliced_like_an_array(trace, values, key):
    np.testing.assert_array_equal(trace[key], values[key])


def test_a_trace_knows_its_size_and_becomes_an_array(trace, values):
    assert len(trace) == 1000
    assert trace.shape == (1000,)
    np.testing.assert_array_equal(np.asarray(trace), values)
    assert long_arrays.peak(trace) == np.abs(values).max()
    assert long_arrays.minimum(trace) == values.min()
    with pytest.raises(IndexError, match="1000: a trace of 1000 samples"):
        trace[1000]


def test_what_was_not_written_is_zero_and_one_number_fills_a_stretch(tmp_path):
    kept = FileRoom(tmp_path)
    found = kept.trace(100)
    found[10:20] = 2.5
    assert np.sum(found[:]) == 25.0
    assert not np.any(found[20:])
    kept.close()


def test_a_second_take_lies_over_the_first(tmp_path):
    kept = FileRoom(tmp_path)
    for number in (1.0, 2.0):
        kept.begin_again()
        kept.trace(100)[0:100] = number
        kept.trace(50)[0:50] = -number
    first = Trace(kept._file, 0, 200)
    assert set(first[0:100]) == {2.0}
    assert set(first[100:150]) == {-2.0}
    assert not np.any(first[150:200])
    kept.close()


def test_nothing_of_it_is_seen_in_the_folder(tmp_path):
    kept = FileRoom(tmp_path)
    kept.trace(1000)[0:1000] = 1.0
    assert os.listdir(tmp_path) == []
    kept.close()


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
