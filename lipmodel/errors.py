"""The two error families that a user can put right, and the wish to stop.

`SceneError`: fix the file or the command.  `SimulationError`: the physics ran away.
Both share `LipmodelError`, which is all that the command line catches.

`check_stop` stands here, where all may call it, physics too: between two steps of long work.
"""

asked: list[int] = []  # signals that asked this process to end and are not answered yet


class LipmodelError(Exception):
    """Something the user can put right; the text says where and how."""


class SceneError(LipmodelError):
    """One or more problems in what the user wrote, all at once.

    `problems` is a tuple of one-line sentences: file, key, value, what is allowed.  A file that
    cannot be read as text or TOML adds two indented lines: its own line, and a caret.
    """

    def __init__(self, problems: str | list[str] | tuple[str, ...]):
        if isinstance(problems, str):
            problems = (problems,)
        self.problems = tuple(problems)
        super().__init__("\n".join(self.problems))


class SimulationError(LipmodelError):
    """The run left the range of the model; the text says when and what to try."""


class Stopped(KeyboardInterrupt):
    """The signal `number` asked this process to end.  Its text, if any, is for the user."""

    def __init__(self, number: int):
        super().__init__()
        self.number = number


def check_stop():
    """Answer a signal to end, if one came: raises `Stopped`, once."""
    if asked:
        raise Stopped(asked.pop())
