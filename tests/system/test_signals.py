"""Signals: a stop comes as soon as it may, and complains to nobody."""

import signal
import sys
import time
import weakref

import pytest
from support import stops
from support.stops import signalled

from lipmodel.system import signals

own_signals = stops.own_signals  # the same fixture


def within(module: str, function):
    """What `function` returns, called by code of a module."""
    names = {"__name__": module, "function": function}
    exec("done = function()", names)
    return names["done"]


def library_frees():
    return within("llvmlite.binding.ffi", signalled)


def library_closes():
    return within("soundfile", signalled)


class ExtensionFileLoader:
    """As the import system's own, where code of a module in C calls Python."""

    @staticmethod
    def exec_module():
        return signalled()


def module_in_c_begins():
    return ExtensionFileLoader.exec_module()


def module_is_locked():
    """As in the middle of the import system's own code, where a lock may be held."""
    own = {"__name__": "importlib._bootstrap", "signal": signal}
    exec("signal.raise_signal(signal.SIGINT); done = 'done'", own)
    return own["done"]


def finalized():
    class Left:
        def __del__(self):
            signalled()

    Left()
    return "done"


def forgotten():
    class Known:
        pass

    known = Known()
    watched = weakref.ref(known, lambda _: signalled())
    del known
    assert watched() is None
    return "done"


@pytest.mark.parametrize(
    "moment",
    [library_frees, library_closes, module_in_c_begins, module_is_locked, finalized, forgotten],
    ids=lambda m: m.__name__,
)
def test_a_stop_at_a_moment_that_must_not_or_cannot_raise_it_comes_soon_after(
    moment, own_signals, capfd
):
    before = sys.unraisablehook
    with signals.stoppable(last=False):
        assert moment() == "done"
        with pytest.raises(signals.Stopped):
            time.sleep(20.0)
    assert sys.unraisablehook is before
    assert capfd.readouterr().err == ""


@pytest.fixture
def own_hook():
    """What is lost in a finalizer, as text, in place of what Python prints."""
    told = []
    before, sys.unraisablehook = sys.unraisablehook, lambda lost: told.append(str(lost.exc_value))
    yield told
    sys.unraisablehook = before


class Left:
    def __del__(self):
        raise AttributeError("half-made")


def test_a_stop_comes_while_a_module_is_loaded(own_signals):
    """Only the import system's own steps are left to end: a module may take a second."""
    with signals.stoppable(last=False), pytest.raises(signals.Stopped):
        within("importlib._bootstrap", signalled)


def test_what_else_is_lost_in_a_finalizer_is_told_as_ever(own_hook):
    with signals.stoppable(last=False):
        Left()
    assert own_hook == ["half-made"]


@pytest.mark.parametrize("last", [False, True])
def test_what_a_stop_left_half_made_complains_to_nobody(last, own_signals, own_hook):
    with signals.stoppable(last):
        try:
            half = Left()
            signalled()
        except signals.Stopped:
            del half
    assert own_hook == []
    Left()  # the process ends, or goes on
    assert own_hook == ([] if last else ["half-made"])
