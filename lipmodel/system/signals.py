"""Ctrl-C, the end of the terminal and a request to end, as one exception that undoes everything.

Who presses twice must not disturb the undoing: for some seconds further signals do nothing.
"""

import signal
import sys
import threading
import time
from contextlib import contextmanager

UNDOING = 5.0  # s
SOON = 0.02  # s
# modules in Python that hold memory of a library in C
HANDLERS_OF_MEMORY = ("llvmlite.binding", "soundfile")


def to_end() -> set:
    """The signals that ask a process to end."""
    return {getattr(signal, n) for n in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, n)}


class Stopped(KeyboardInterrupt):
    """A signal asked this process to end; `number` says which.  Its text, if any, is for the
    user."""

    number = signal.SIGINT


class _Held:
    """Whether a stop waits, and the signal that came meanwhile."""

    now = False
    number = None


class _Section:
    """Until it ends a stop waits, or does not.  No generator: one that is left in the middle ends
    late, and would then put back what is long over."""

    def __init__(self, held: bool):
        self.held = held
        self.answers = threading.current_thread() is threading.main_thread()

    def __enter__(self):
        if self.answers:
            self.before = _Held.now
            self._set(self.held)

    def __exit__(self, *_):
        if self.answers:
            self._set(self.before)

    def _set(self, held):
        _Held.now = held
        number = _Held.number
        if number is not None and not held:
            _Held.number = None
            signal.raise_signal(number)


def unbroken():
    """A context for a few steps that belong together: a stop waits until they are done."""
    return _Section(held=True)


def breakable():
    """A context within `unbroken` in which a stop may come.  There is no gap between the two: a
    stop that comes just as this ends is the first, and more do nothing for a while."""
    return _Section(held=False)


@contextmanager
def stoppable(last: bool):
    """A signal to end raises `Stopped` in here, in the first thread; one that was ignored from the
    start (nohup) stays ignored.  `last`: the process ends after this, and is left in peace then.
    """
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = {n: signal.getsignal(n) for n in to_end()}
    answer, hook = _Answer(), sys.unraisablehook
    sys.unraisablehook = answer.unless_lost
    _Held.now, _Held.number = False, None
    try:
        for number, known in before.items():
            if known not in (signal.SIG_IGN, None):
                signal.signal(number, answer)
        yield
    finally:
        stopped = answer.since is not None
        if not (last and stopped):
            sys.unraisablehook = hook
        ending = last or stopped
        for number, known in before.items():
            if known is not None:
                signal.signal(number, signal.SIG_IGN if ending else known)


class _Answer:
    def __init__(self):
        self.since = None
        self.otherwise = sys.unraisablehook

    def __call__(self, number, frame):
        if _Held.now:
            _Held.number = number
            return
        if _in_the_middle(frame):
            _again(number)
            return
        now = time.monotonic()
        if self.since is not None and now - self.since < UNDOING:
            return
        self.since = now
        raise _stop(number)

    def unless_lost(self, unraisable):
        """A stop raised where Python drops what is raised (a finalizer, a callback) comes again.
        After a stop what it left half-made complains to nobody."""
        lost = unraisable.exc_value
        if isinstance(lost, Stopped):
            self.since = None
            _again(lost.number)
        elif self.since is None:
            self.otherwise(unraisable)


def _stop(number) -> Stopped:
    """Made here: were it a local name where it is raised, what its traceback holds (what is to be
    undone, too) would wait for the garbage collector."""
    stop = Stopped()
    stop.number = number
    return stop


def _in_the_middle(frame) -> bool:
    """Whether a stop would leave a lock of the import system taken, or what has been freed already
    to be freed again, llvmlite's callback without an answer, or a module in C half begun."""
    if frame is not None and frame.f_globals.get("__name__") == "importlib._bootstrap":
        return True
    while frame is not None:
        if str(frame.f_globals.get("__name__")).startswith(HANDLERS_OF_MEMORY):
            return True
        if frame.f_code.co_qualname.startswith("ExtensionFileLoader."):
            return True
        frame = frame.f_back
    return False


def _again(number):
    """The signal once more, soon."""
    if hasattr(signal, "pthread_kill"):  # wakes what waits
        again = signal.pthread_kill, (threading.main_thread().ident, number)
    else:
        again = signal.raise_signal, (number,)
    threading.Timer(SOON, *again).start()
