"""Task, Outcome, how many workers; working tasks off in this process."""

import os
from collections.abc import Callable
from dataclasses import dataclass

from lipmodel.errors import SceneError, check_stop

MOST_WORKERS = 64


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


def problem_of(error: BaseException) -> str:
    text = " ".join(str(error).split())
    return f"{type(error).__name__}: {text}" if text else type(error).__name__


def one_by_one(tasks, shared):
    for index, task in enumerate(tasks):
        check_stop()
        for attempt in (1, 2):
            try:
                outcome = Outcome(index, task.function(shared, *task.arguments))
            except Exception as error:
                outcome = Outcome(index, problem=problem_of(error))
                if attempt == 1:
                    continue
            break
        yield outcome
