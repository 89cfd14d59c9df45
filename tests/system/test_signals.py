"""Signals: noted when they come, answered where work looks up, and Ctrl-C twice ends at once."""

import signal
import subprocess
import sys

import pytest
from support.processes import PATIENCE, ROOT

from lipmodel.errors import Stopped, check_stop
from lipmodel.system import signals


@pytest.mark.parametrize("number", sorted(signals.stop_signals()))
def test_a_signal_waits_until_work_looks_up_and_is_answered_once(number):
    before = signal.getsignal(number)
    with signals.stoppable(last=False):
        check_stop()
        signal.raise_signal(number)
        with pytest.raises(Stopped) as stop:
            check_stop()
        check_stop()
    assert stop.value.number == number
    assert signal.getsignal(number) is before


def test_others_do_nothing_while_the_first_is_answered():
    with signals.stoppable(last=False):
        for number in (signal.SIGHUP, signal.SIGHUP, signal.SIGTERM):
            signal.raise_signal(number)
        with pytest.raises(Stopped) as stop:
            check_stop()
        signal.raise_signal(signal.SIGTERM)
        check_stop()
    assert stop.value.number == signal.SIGHUP


def test_one_that_nobody_answered_is_forgotten():
    with signals.stoppable(last=False):
        signal.raise_signal(signal.SIGINT)
    with signals.stoppable(last=False):
        check_stop()


def test_one_that_was_ignored_from_the_start_stays_ignored():
    before = signal.signal(signal.SIGHUP, signal.SIG_IGN)
    try:
        with signals.stoppable(last=False):
            signal.raise_signal(signal.SIGHUP)
            check_stop()
    finally:
        signal.signal(signal.SIGHUP, before)


TWICE = """
import signal
from lipmodel.system.signals import stoppable
with stoppable(last=True):
    signal.raise_signal(signal.{})
    print("once", flush=True)
    signal.raise_signal(signal.SIGINT)
    print("twice", flush=True)
"""


@pytest.mark.parametrize("first", ["SIGINT", "SIGTERM"])
def test_ctrl_c_after_another_ends_the_process_at_once(first):
    done = subprocess.run(
        [sys.executable, "-c", TWICE.format(first)], cwd=ROOT, timeout=PATIENCE, check=False,
        capture_output=True, text=True,
    )  # fmt: skip
    assert (done.returncode, done.stdout, done.stderr) == (-signal.SIGINT, "once\n", "")
