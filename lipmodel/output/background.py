"""A second process that finishes takes while the first one plays.

It loads what is slow to load (pictures, loudness) at the same time as the first one compiles and
plays.  Takes go there and back pickled through pipes, each with its length in front.  Where no
second process can be had, or a take is very long, the work is done here: same code, same bytes.
"""

import contextlib
import os
import pickle
import signal
import struct
import subprocess
import sys

LENGTH = struct.Struct("<Q")


class BackgroundWriter:
    """`take_files` of `output/take_files.py`, mostly elsewhere.  A context manager."""

    def __init__(self):
        self.process = None
        with contextlib.suppress(OSError):
            self.process = subprocess.Popen(
                [sys.executable, "-m", "lipmodel.output.background"],
                stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL,
                env={**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, sys.path))},
            )  # fmt: skip

    def __enter__(self):
        return self

    def __exit__(self, *_):
        if self.process is None:
            return
        with contextlib.suppress(OSError):
            self.process.stdin.close()
        self.process.stdout.close()
        self.process.terminate()
        self.process.wait()

    def finish(self, take: dict) -> dict:
        """What `take_files(take)` returns."""
        if self.process is not None and not take["folder"]:
            try:
                _send(self.process.stdin, take)
                return _receive(self.process.stdout)
            except (OSError, EOFError, pickle.UnpicklingError):
                self.__exit__()
                self.process = None
        from lipmodel.output.take_files import take_files

        return take_files(take)


def _send(pipe, value):
    data = pickle.dumps(value, protocol=pickle.HIGHEST_PROTOCOL)
    pipe.write(LENGTH.pack(len(data)))
    pipe.write(data)
    pipe.flush()


def _receive(pipe):
    head = pipe.read(LENGTH.size)
    if len(head) < LENGTH.size:
        raise EOFError
    (size,) = LENGTH.unpack(head)
    data = pipe.read(size)
    if len(data) < size:
        raise EOFError
    return pickle.loads(data)


def _serve():
    """Finish takes from standard input until it ends.  Ctrl-C is the first process's affair."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    answers = os.fdopen(os.dup(sys.stdout.fileno()), "wb")
    os.dup2(2, 1)  # nothing else may get between the answers
    # loaded ahead, while the other process plays
    import pyloudnorm  # noqa: F401

    from lipmodel.output.pages import listen  # noqa: F401
    from lipmodel.output.pictures import image_file  # noqa: F401
    from lipmodel.output.pictures import take as take_picture  # noqa: F401
    from lipmodel.output.take_files import take_files

    while True:
        try:
            take = _receive(sys.stdin.buffer)
        except EOFError:
            return
        _send(answers, take_files(take))


if __name__ == "__main__":
    _serve()
