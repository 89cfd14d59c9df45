"""The two error families that a user can put right.

`SceneError`: fix the file or the command.  `SimulationError`: the physics ran away.
Both share `LipmodelError`, which is all that the command line catches.
"""


class LipmodelError(Exception):
    """Something the user can put right; the text says where and how."""


class SceneError(LipmodelError):
    """One or more problems in what the user wrote, all at once.

    `problems` is a tuple of one-line sentences: file, key, value, what is allowed.
    """

    def __init__(self, problems: str | list[str] | tuple[str, ...]):
        if isinstance(problems, str):
            problems = (problems,)
        self.problems = tuple(problems)
        super().__init__("\n".join(self.problems))


class SimulationError(LipmodelError):
    """The run left the range of the model; the text says when and what to try."""
