"""Tasks on a Dask cluster."""

import asyncio
import logging
import signal
import time
from contextlib import contextmanager
from multiprocessing import resource_tracker

from lipmodel.errors import SceneError, check_stop
from lipmodel.system.signals import undisturbed
from lipmodel.system.tasks import Outcome, problem_of, processors

LOCAL = "local"  # in place of an address: a cluster on this machine
PATIENCE = 8.0  # s, for a cluster to answer
LOOKS_UP = 0.05  # s, of a wait: then it sees whether it was asked to stop


def _handed(shared):
    return shared


def on_cluster(tasks, address, shared):
    with _client(address) as client:
        # a task and not scattered data: it is made again where its worker is lost
        handed = client.submit(_handed, shared, pure=False)
        futures = [
            client.submit(task.function, handed, *task.arguments, retries=1, pure=False)
            for task in tasks
        ]
        place = {future.key: index for index, future in enumerate(futures)}
        try:
            for future in _as_completed(futures):
                index, error = place[future.key], future.exception()
                if error is None:
                    yield Outcome(index, future.result())
                else:
                    yield Outcome(index, problem=problem_of(error))
                future.release()
        finally:
            client.cancel(futures)


def _as_completed(futures):
    from dask.distributed import as_completed

    done = as_completed(futures)
    while not done.is_empty():
        check_stop()
        if done.has_ready():
            yield next(done)
        else:
            time.sleep(LOOKS_UP)


def _distributed(address):
    try:
        from dask import distributed
    except ImportError as error:
        raise SceneError(
            f'--cluster {address}: Dask is not installed; pip install "lipmodel[cluster]"'
        ) from error
    return distributed


@contextmanager
def _client(address):
    """A client of the cluster at `address`, closed afterwards; SceneError without one."""
    distributed = _distributed(address)
    logging.getLogger("distributed").setLevel(logging.CRITICAL)  # it tells its own long story
    if address == LOCAL:
        with _local(distributed) as cluster, distributed.Client(cluster) as client:
            yield client
        return
    size(address)
    with distributed.Client(address, timeout=PATIENCE) as client:
        yield client


def _local(distributed):
    resource_tracker.ensure_running()  # as it begins it lifts the mask
    with undisturbed({signal.SIGINT}):
        return distributed.LocalCluster(
            n_workers=processors(),
            threads_per_worker=1,
            dashboard_address=None,
            silence_logs=logging.CRITICAL,
        )


def size(how: int | str) -> int:
    """How many tasks run at a time; SceneError where no cluster answers or it has no workers."""
    if isinstance(how, int):
        return how
    if how == LOCAL:
        return processors()
    _distributed(how)
    try:
        workers = asyncio.run(_identity(how))["workers"]
    except (OSError, ValueError, RuntimeError) as error:
        raise SceneError(
            f"--cluster {how}: no answer within {PATIENCE:g} s; expected the address of a "
            'Dask scheduler such as tcp://192.168.1.20:8786, or "local"'
        ) from error
    if not workers:
        raise SceneError(f"--cluster {how}: has no workers; start some with dask worker")
    return sum(worker["nthreads"] for worker in workers.values())


async def _identity(address) -> dict:
    """What the scheduler says of itself.  Asked first: `Client` waits for ever where the other
    side takes the call and says nothing."""
    from dask.distributed import rpc

    async with asyncio.timeout(PATIENCE), rpc(address) as scheduler:
        return await scheduler.identity()
