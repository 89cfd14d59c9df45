"""Tasks on a Dask cluster: a failure is told, and a killed worker loses nothing."""

import signal

import pytest
from support.tasks import die_at_two, double

from lipmodel.system.tasks import Task
from lipmodel.system.workers import run_many

# Dask's own processes and sockets are closed a moment after it says so
pytestmark = [pytest.mark.filterwarnings("ignore"), pytest.mark.slow]


def test_a_task_that_fails_on_the_cluster_is_told():
    pytest.importorskip("dask.distributed")
    found = {o.index: o for o in run_many([Task(double, (i,)) for i in range(5)], "local", 3)}
    assert found[2].problem == "ValueError: two is too many"
    assert [found[i].value for i in (0, 1, 3, 4)] == [0, 3, 9, 12]


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="needs SIGKILL")
def test_a_killed_worker_of_the_cluster_loses_nothing(tmp_path):
    pytest.importorskip("dask.distributed")
    tasks = [Task(die_at_two, (i,)) for i in range(5)]
    found = {o.index: o.value for o in run_many(tasks, "local", str(tmp_path))}
    assert found == {i: i for i in range(5)}
