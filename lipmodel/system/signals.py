"""Ctrl-C, the end of the terminal and a request to end.

A signal is only noted; `errors.check_stop` answers it between two steps of the work, where nothing
is half done.  Ctrl-C after it ends the process at once.
"""

import signal
import threading
from contextlib import contextmanager

from lipmodel.errors import asked


def stop_signals() -> set:
    """The signals that ask a process to end."""
    return {getattr(signal, n) for n in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, n)}


@contextmanager
def stoppable(last: bool):
    """Signals to end are noted in here, in the first thread; one that was ignored from the start
    (nohup) stays ignored.  `last`: the process ends after this, and answers none any more."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = {n: signal.getsignal(n) for n in stop_signals()}
    asked.clear()
    try:
        for number, known in before.items():
            if known not in (signal.SIG_IGN, None):
                signal.signal(number, _note)
        yield
    finally:
        for number, known in before.items():
            if known is not None and not last:
                signal.signal(number, known)


def _note(number, _):
    """The first signal: what follows it does nothing, but for Ctrl-C, which no longer waits."""
    asked.append(number)
    for other in stop_signals():
        if signal.getsignal(other) is _note:
            ignored = signal.SIG_IGN if other != signal.SIGINT else signal.SIG_DFL
            signal.signal(other, ignored)


@contextmanager
def undisturbed(numbers: set):
    """Processes and threads begun in here never see these signals: Ctrl-C reaches every process of
    a terminal, and the first one alone answers it."""
    mask = getattr(signal, "pthread_sigmask", None)
    before = mask(signal.SIG_BLOCK, numbers) if mask else None
    try:
        yield
    finally:
        if mask:
            mask(signal.SIG_SETMASK, before)
