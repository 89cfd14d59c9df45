"""Tasks worked off here and by worker processes: done once, tried again, never lost."""

import signal

import pytest
from support.tasks import add, die_always, die_once, fail_once, refuse

from lipmodel.errors import Stopped
from lipmodel.system import pool, signals
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


@pytest.mark.parametrize("how", [1, 2])
def test_a_stop_is_answered_before_the_tasks_are_done(how):
    found = []

    def stopped():
        for outcome in run_many([Task(add, (i,)) for i in range(1000)], how, 10):
            found.append(outcome)
            if len(found) == 3:
                signal.raise_signal(signal.SIGINT)

    with signals.stoppable(last=False), pytest.raises(Stopped):
        stopped()
    assert len(found) < 30
