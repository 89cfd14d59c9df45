"""Tasks worked off here and by worker processes: done once, tried again, never lost."""

import os
import signal
import threading
import time

import pytest
from support.tasks import add, die_always, die_once, fail_once, refuse

from lipmodel.system import pool
from lipmodel.system.tasks import Task
from lipmodel.system.workers import run_many


def outcomes(function, how, shared=None, count=8):
    found = list(run_many([Task(function, (i,)) for i in range(count)], how, shared))
    assert sorted(o.index for o in found) == list(range(count))
    return {o.index: o for o in found}


@pytest.mark.parametrize("how", [1, 2])
def test_every_task_is_done_once(how):
    found = outcomes(add, how, shared=10)
    assert [found[i].value for i in range(8)] == list(range(10, 18))


@pytest.mark.parametrize("how", [1, 2])
def test_a_task_that_fails_is_told_and_loses_nothing_else(how):
    found = outcomes(refuse, how)
    assert found[3].value is None
    assert found[3].problem == "ValueError: three is too many"
    assert [found[i].value for i in range(8) if i != 3] == [0, 1, 2, 4, 5, 6, 7]


@pytest.mark.parametrize("how", [1, 2])
def test_a_task_that_fails_once_is_tried_again(how, tmp_path):
    found = outcomes(fail_once, how, str(tmp_path), count=3)
    assert [found[i].value for i in range(3)] == [0, 1, 2]


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="needs SIGKILL")
def test_a_killed_worker_loses_nothing(tmp_path):
    found = outcomes(die_once, 2, str(tmp_path))
    assert [found[i].value for i in range(8)] == list(range(8))


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="needs SIGKILL")
def test_a_task_that_kills_its_worker_twice_is_told():
    found = outcomes(die_always, 2)
    assert found[3].problem == pool.DIED
    assert [found[i].value for i in range(8) if i != 3] == [0, 1, 2, 4, 5, 6, 7]


def test_no_signal_parts_a_pool_from_a_process_that_it_begins():
    # with another thread about, as there always is: it takes the signal, and the handler would run
    # in the middle of things in spite of the mask
    heard, over = [], threading.Event()
    other = threading.Thread(target=over.wait)
    before = signal.signal(signal.SIGTERM, lambda number, _: heard.append(number))
    try:
        other.start()
        with pool.undisturbed():
            os.kill(os.getpid(), signal.SIGTERM)
            for _ in range(1000):
                time.sleep(1e-4)
            assert heard == []
        assert heard == [signal.SIGTERM]
        assert signal.pthread_sigmask(signal.SIG_BLOCK, ()) == set()
    finally:
        over.set()
        other.join()
        signal.signal(signal.SIGTERM, before)
