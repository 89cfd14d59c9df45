"""Many runs: one list of tasks, worked off here, by processes, or by a Dask cluster.

The same results bit for bit whichever way: what the tasks share is made once and handed to every
worker, and no task sees another.  A task that raises, or whose worker dies, is tried once more;
what fails twice is told as a sentence and loses nothing else.
"""

import multiprocessing
import os
import signal
import threading
from collections import deque
from concurrent.futures import FIRST_COMPLETED, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from multiprocessing import resource_tracker
from tempfile import gettempdir

from lipmodel.errors import check_stop
from lipmodel.system.signals import stop_signals, undisturbed
from lipmodel.system.tasks import Outcome, Task, problem_of

LONGEST_FOLDER = 70  # bytes of a folder's name in which the system takes another 33 for a socket
QUEUED = 2  # tasks handed out for each worker: one at work, one waiting
LOOKS_UP = 0.2  # s, of a wait: then it sees whether it was asked to stop
DIED = "the worker process died"
_shared = None  # what the tasks of this worker process share, set once when it starts


def _begin(shared):
    global _shared
    _shared = shared
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # where there are no masks, see below
    if hasattr(signal, "pthread_sigmask"):
        signal.pthread_sigmask(signal.SIG_UNBLOCK, stop_signals() - {signal.SIGINT})
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent():
    """A worker whose parent was killed would wait for tasks for ever: it holds both ends of the
    queue."""
    multiprocessing.parent_process().join()
    os._exit(1)


def process_context(preload):
    """How workers are begun: forked from a helper process that has loaded the package once,
    where that exists (half the start-up work), else anew.  It is asked through a socket in the
    folder for temporary files, whose name the system wants short."""
    methods = multiprocessing.get_all_start_methods()
    if "forkserver" not in methods or len(os.fsencode(gettempdir())) > LONGEST_FOLDER:
        return multiprocessing.get_context("spawn")
    resource_tracker.ensure_running()  # as it begins it lifts the mask that `undisturbed` sets
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(list(preload))
    return context


def _work(task: Task):
    return task.function(_shared, *task.arguments)


class Pool:
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
                check_stop()
                self._hand_out()
                done, _ = wait(self.flying, LOOKS_UP, return_when=FIRST_COMPLETED)
                for future in done:
                    outcome = self._outcome(future, self.flying.pop(future))
                    if outcome:
                        yield outcome
        finally:
            if self.executor:
                self.executor.shutdown(wait=True, cancel_futures=True)

    def _hand_out(self):
        if self.executor is None and not self.flying:
            context = process_context(self.preload)
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
            with undisturbed(stop_signals()):
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
            return Outcome(index, problem=DIED if died else problem_of(error))
        self.failed.add(index)
        self.suspects.append(index)
        return None
