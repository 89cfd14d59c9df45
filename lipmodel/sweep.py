"""Many runs: one list of tasks, worked off here, by processes, or by a Dask cluster.

The same results bit for bit whichever way: what the tasks share is made once and handed to every
worker, and no task sees another.  A task that raises, or whose worker dies, is tried once more;
what fails twice is told as a sentence and loses nothing else.
"""

import asyncio
import logging
import multiprocessing
import os
import signal
import threading
from collections import deque
from collections.abc import Callable, Iterator
from concurrent.futures import FIRST_COMPLETED, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from dataclasses import dataclass
from multiprocessing import resource_tracker
from tempfile import gettempdir

from lipmodel.errors import SceneError
from lipmodel.stopping import to_end

LOCAL = "local"  # in place of an address: a cluster on this machine
MOST_WORKERS = 64
LONGEST_FOLDER = 70  # bytes of a folder's name in which the system takes another 33 for a socket
QUEUED = 2  # tasks handed out for each worker: one at work, one waiting
PATIENCE = 8.0  # s, for a cluster to answer
DIED = "the worker process died"

_shared = None  # what the tasks of this worker process share, set once when it starts


@dataclass(frozen=True)
class Task:
    """`function(shared, *arguments)`, the function at the top of a module."""

    function: Callable
    arguments: tuple = ()


@dataclass(frozen=True)
class Outcome:
    """What became of task number `index`: its value, or None and the `problem`."""

    index: int
    value: object = None
    problem: str | None = None


def workers_asked(given: str | None) -> int:
    """How many processes `--workers` asks for: all cores if not told.  SceneError for nonsense."""
    if given is None:
        return min(processors(), MOST_WORKERS)
    if not (given.isascii() and given.isdigit() and 1 <= int(given) <= MOST_WORKERS):
        raise SceneError(f"--workers {given}: expected a whole number from 1 to {MOST_WORKERS}")
    return int(given)


def processors() -> int:
    """Processors that this process may use."""
    known = getattr(os, "sched_getaffinity", None)
    return len(known(0)) if known else os.cpu_count() or 1


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
        return _on_cluster(tasks, how, shared)
    return _in_pool(tasks, how, shared, preload) if how > 1 else _one_by_one(tasks, shared)


def _told(error: BaseException) -> str:
    text = " ".join(str(error).split())
    return f"{type(error).__name__}: {text}" if text else type(error).__name__


def _one_by_one(tasks, shared):
    for index, task in enumerate(tasks):
        for attempt in (1, 2):
            try:
                outcome = Outcome(index, task.function(shared, *task.arguments))
            except Exception as error:
                outcome = Outcome(index, problem=_told(error))
                if attempt == 1:
                    continue
            break
        yield outcome


def _begin(shared):
    global _shared
    _shared = shared
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # where there are no masks, see below
    if hasattr(signal, "pthread_sigmask"):
        signal.pthread_sigmask(signal.SIG_UNBLOCK, to_end() - {signal.SIGINT})
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent():
    """A worker whose parent was killed would wait for tasks for ever: it holds both ends of the
    queue."""
    multiprocessing.parent_process().join()
    os._exit(1)


@contextmanager
def _undisturbed():
    """Processes begun in here never see Ctrl-C, which reaches every process of a terminal: the
    first one alone answers it, as soon as this is over.  Nor may any signal part the pool from a
    process that it is just beginning: it would wait for it for ever.

    The mask is for the processes begun: here another thread would take the signal, and its handler
    would run in this one all the same.  So handlers wait too.
    """
    mask = getattr(signal, "pthread_sigmask", None)
    before = mask(signal.SIG_BLOCK, to_end()) if mask else None
    came, own = [], {}
    if threading.current_thread() is threading.main_thread():
        own = {n: signal.signal(n, lambda number, _: came.append(number)) for n in to_end()}
    try:
        yield
    finally:
        for number, handler in own.items():
            signal.signal(number, signal.SIG_DFL if handler is None else handler)
        if mask:
            mask(signal.SIG_SETMASK, before)
        for number in came[:1]:
            signal.raise_signal(number)


def _context(preload):
    """How workers are begun: forked from a helper process that has loaded the package once,
    where that exists (half the start-up work), else anew.  It is asked through a socket in the
    folder for temporary files, whose name the system wants short."""
    methods = multiprocessing.get_all_start_methods()
    if "forkserver" not in methods or len(os.fsencode(gettempdir())) > LONGEST_FOLDER:
        return multiprocessing.get_context("spawn")
    resource_tracker.ensure_running()  # as it begins it lifts the mask that `_undisturbed` sets
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(list(preload))
    return context


def get_ready(workers: int, preload: tuple[str, ...]):
    """Let the process that workers are forked from load what they need, while this one goes on."""
    if workers > 1 and _context(preload).get_start_method() == "forkserver":
        from multiprocessing.forkserver import ensure_running

        with _undisturbed():
            ensure_running()


def _work(task: Task):
    return task.function(_shared, *task.arguments)


class _Pool:
    """Tasks on processes.  When a worker dies, all tasks in the air come down with it: each of
    them is then tried alone, so that the second death is surely its own doing."""

    def __init__(self, tasks, workers, shared, preload):
        self.tasks, self.workers, self.shared, self.preload = tasks, workers, shared, preload
        self.waiting = deque(range(len(tasks)))
        self.suspects: deque[int] = deque()
        self.failed: set[int] = set()
        self.flying: dict = {}
        self.alone = False
        self.executor = None

    def outcomes(self):
        try:
            while self.waiting or self.suspects or self.flying:
                self._hand_out()
                done, _ = wait(self.flying, return_when=FIRST_COMPLETED)
                for future in done:
                    outcome = self._outcome(future, self.flying.pop(future))
                    if outcome:
                        yield outcome
        finally:
            if self.executor:
                self.executor.shutdown(wait=True, cancel_futures=True)

    def _hand_out(self):
        if self.executor is None and not self.flying:
            context = _context(self.preload)
            self.executor = ProcessPoolExecutor(
                self.workers, context, initializer=_begin, initargs=(self.shared,)
            )
        if self.suspects or self.alone:
            self.alone = bool(self.suspects)
            if self.alone and not self.flying:
                self._submit(self.suspects.popleft())
            return
        while self.executor and self.waiting and len(self.flying) < QUEUED * self.workers:
            self._submit(self.waiting.popleft())

    def _submit(self, index):
        try:
            with _undisturbed():
                future = self.executor.submit(_work, self.tasks[index])
            self.flying[future] = index
        except BrokenProcessPool:  # it broke a moment ago: this one never flew
            self.waiting.appendleft(index)
            self._broken()

    def _broken(self):
        if self.executor:
            self.executor.shutdown(wait=False)
            self.executor = None

    def _outcome(self, future, index):
        error = future.exception()
        if error is None:
            return Outcome(index, future.result())
        died = isinstance(error, BrokenProcessPool)
        if died:
            self._broken()
        if index in self.failed:
            return Outcome(index, problem=DIED if died else _told(error))
        self.failed.add(index)
        self.suspects.append(index)
        return None


def _in_pool(tasks, workers, shared, preload):
    yield from _Pool(tasks, workers, shared, preload).outcomes()


def _handed(shared):
    return shared


def _on_cluster(tasks, address, shared):
    with _client(address) as client:
        from dask.distributed import as_completed

        # a task and not scattered data: it is made again where its worker is lost
        handed = client.submit(_handed, shared, pure=False)
        futures = [
            client.submit(task.function, handed, *task.arguments, retries=1, pure=False)
            for task in tasks
        ]
        place = {future.key: index for index, future in enumerate(futures)}
        try:
            for future in as_completed(futures):
                index, error = place[future.key], future.exception()
                if error is None:
                    yield Outcome(index, future.result())
                else:
                    yield Outcome(index, problem=_told(error))
                future.release()
        finally:
            client.cancel(futures)


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
        with (
            distributed.LocalCluster(
                n_workers=processors(),
                threads_per_worker=1,
                dashboard_address=None,
                silence_logs=logging.CRITICAL,
            ) as cluster,
            distributed.Client(cluster) as client,
        ):
            yield client
        return
    size(address)
    with distributed.Client(address, timeout=PATIENCE) as client:
        yield client


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
