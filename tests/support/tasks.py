"""Tasks for worker processes, which import them by name: they add, fail, and die."""

import os
import signal
from pathlib import Path


def double(shared, number):
    if number == 2:
        raise ValueError("two is too many")
    return shared * number


def die_at_two(shared, number):
    mark = Path(shared) / f"{number}"
    if number == 2 and not mark.exists():
        mark.write_text("died")
        os.kill(os.getpid(), signal.SIGKILL)
    return number


# what tasks do, at the top of a module so that other processes find it


def add(shared, number):
    return shared + number


def refuse(shared, number):
    if number == 3:
        raise ValueError("three is too many")
    return number


def die_once(shared, number):
    """The worker of task 3 is killed the first time, as when memory runs out."""
    mark = Path(shared) / f"{number}"
    if number == 3 and not mark.exists():
        mark.write_text("died")
        os.kill(os.getpid(), signal.SIGKILL)
    return number


def die_always(shared, number):
    if number == 3:
        os.kill(os.getpid(), signal.SIGKILL)
    return number


def fail_once(shared, number):
    mark = Path(shared) / f"{number}"
    if not mark.exists():
        mark.write_text("failed")
        raise OSError("the disk was asleep")
    return number
