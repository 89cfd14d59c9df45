"""Run_many: this process, a pool or a cluster."""

from collections.abc import Iterator

from lipmodel.system.cluster import on_cluster
from lipmodel.system.pool import Pool, process_context
from lipmodel.system.signals import stop_signals, undisturbed
from lipmodel.system.tasks import Outcome, Task, one_by_one


def run_many(
    tasks: list[Task], how: int | str = 1, shared=None, preload: tuple[str, ...] = ()
) -> Iterator[Outcome]:
    """Outcomes of all tasks as they are done, in no fixed order.

    `how`: a number of processes (1: this one), "local" or the address of a Dask scheduler.
    `shared` is handed to every task; `preload` names modules that worker processes load first.
    Close the iterator to stop early.
    Raises SceneError where there is no such cluster.
    """
    if isinstance(how, str):
        return on_cluster(tasks, how, shared)
    return _in_pool(tasks, how, shared, preload) if how > 1 else one_by_one(tasks, shared)


def get_ready(workers: int, preload: tuple[str, ...]):
    """Let the process that workers are forked from load what they need, while this one goes on."""
    if workers > 1 and process_context(preload).get_start_method() == "forkserver":
        from multiprocessing.forkserver import ensure_running

        with undisturbed(stop_signals()):
            ensure_running()


def _in_pool(tasks, workers, shared, preload):
    yield from Pool(tasks, workers, shared, preload).outcomes()
