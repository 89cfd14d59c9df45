"""Words in, exit code out: 0 done, 2 the user can put it right, 1 our bug, 130 stopped by Ctrl-C.

The commands themselves are in `commands/`, loaded when one is asked for, so that help is quick.
"""

import contextlib
import os
import signal
import sys
from importlib import import_module

from lipmodel.commands.parser import make_parser
from lipmodel.errors import LipmodelError, check_stop
from lipmodel.files.paths import outside_allowed
from lipmodel.system.signals import stoppable

CLEAR = "\r\x1b[K"  # a line of a terminal


def main(argv: list[str] | None = None) -> int:
    """Run one command; 0 when done, 2 when the user can put it right, 128 and the number of the
    signal that stopped it."""
    for name in ("stdout", "stderr"):
        if getattr(sys, name) is None:  # closed from the start
            setattr(sys, name, open(os.devnull, "w"))  # noqa: SIM115 - as long as the process
    with stoppable(last=argv is None):
        try:
            code = _run(argv)
        except SystemExit:
            _flushed()
            raise
        return _flushed(code)


def _run(argv) -> int:
    try:
        args = make_parser().parse_args(argv)
        with outside_allowed(getattr(args, "allow_outside", False)):
            command = import_module(f"lipmodel.commands.{args.command}")
            check_stop()
            return command.run(args) or 0
    except LipmodelError as error:
        _complain(error)
    except BrokenPipeError:
        return 0
    except OSError as error:  # a disk that is full or gone, where no writer saw it
        where = error.filename or "standard output or a scratch file"
        _complain(f"{where}: {error.strerror or error}; nothing was left half-written")
    except KeyboardInterrupt as stop:
        clear = CLEAR if sys.stderr.isatty() else ""  # of the bar, and of the key that was pressed
        _complain(clear + (str(stop) or "stopped; nothing was left half-written"))
        return 128 + getattr(stop, "number", signal.SIGINT)
    return 2


def _complain(words):
    with contextlib.suppress(OSError):
        print(words, file=sys.stderr, flush=True)


def _flushed(code=0) -> int:
    """`code`, or 2 where all was well but what was said got lost; a reader who has gone is no
    loss."""
    try:
        sys.stdout.flush()
    except OSError as error:
        with contextlib.suppress(OSError):  # nothing may be tried again when Python ends
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        if code == 0 and not isinstance(error, BrokenPipeError):
            _complain(f"standard output: cannot be written ({error.strerror})")
            return 2
    return code
