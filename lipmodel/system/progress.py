"""How a long piece of work goes, told to whoever asked."""


class Progress:
    """Tells `told(done, total, words)` of each stage as it begins, and `say(text)` what takes
    long or was left out.  Without either it tells nobody.

    >>> work = Progress(lambda done, total, words: print(done, total, words), total=2)
    >>> work.step("playing")
    1 2 playing
    """

    def __init__(self, told=None, say=None, total=None):
        self._told, self._say = told, say
        self.done, self.total = 0, total

    def step(self, words: str):
        """One more stage begins."""
        self.done += 1
        self._tell(self.done, self.total, words)

    def part(self, done: int, total: int, words: str):
        """`done` of `total` parts of the present stage."""
        self._tell(self.done, self.total, f"{words}: {done} of {total}")

    def reach(self, done: int, total: int, words: str):
        """So far, and of how many: of work that counts by itself."""
        self.done, self.total = done, total
        self._tell(done, total, words)

    def say(self, text: str):
        if self._say:
            self._say(text)

    def _tell(self, *how):
        if self._told:
            self._told(*how)


def telling(progress) -> Progress:
    """`progress` (None, a callable of (done, total, words), or a Progress) as a Progress."""
    return progress if isinstance(progress, Progress) else Progress(progress)
