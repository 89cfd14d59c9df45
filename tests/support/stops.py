"""A signal to this very process, and its own handlers given back."""

import signal

import pytest

from lipmodel.system import signals


@pytest.fixture
def own_signals():
    """After a stop the signals to end are ignored: the tests that follow want theirs back."""
    before = {n: signal.getsignal(n) for n in signals.to_end()}

    def given_back():
        for number, known in before.items():
            signal.signal(number, known)

    yield given_back
    given_back()


def signalled():
    signal.raise_signal(signal.SIGINT)
    return "done"
