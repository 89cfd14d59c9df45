"""A room that listens blind together: hands counted, and how likely that many are right by chance.

Neighbours see each other's hands, so hands are not counted as so many listeners who guess alone.
What is random is X: in every trial a fair coin says whether it is A or B.  The chance is exact
over all ways in which the coins could have fallen, whatever the hands did (the randomization test
of R. A. Fisher, The Design of Experiments, 1935; reference from memory).  pages/blind/room.js has
the same few lines.
"""

from dataclasses import dataclass

from lipmodel.errors import SceneError
from lipmodel.studies import blind_test
from lipmodel.studies.blind_results import ROOM, beside, loaded, of_kind, refuse, sums_of

FEWEST, MOST = 5, 12  # trials: five coins can say less than 5 %
MOST_HANDS = 999
NEEDED = {"set": str, "title": str, "sounds": list, "trials": list, "seal": str}
OF_TRIAL = {"x": int, "hands_a": int, "hands_b": int}


def chance_of(trials) -> float:
    """Probability that as many hands or more are right; `trials`: (hands for A, hands for B, 0
    where X was A or 1 where it was B) each.

    >>> chance_of([(10, 0, 0), (0, 10, 1)])
    0.25
    """
    ways = {0: 1}  # hands right: coins that give so many
    for a, b, _ in trials:
        more = {}
        for right, count in ways.items():
            for hands in (a, b):
                more[right + hands] = more.get(right + hands, 0) + count
        ways = more
    reached = right_of(trials)
    return sum(count for right, count in ways.items() if right >= reached) / 2 ** len(trials)


def right_of(trials) -> int:
    """Hands that were right."""
    return sum((a, b)[x] for a, b, x in trials)


@dataclass(frozen=True)
class Room:
    """A round of a whole room, checked; `trials` as in `chance_of`."""

    path: str
    title: str
    names: tuple[str, str]
    trials: tuple[tuple[int, int, int], ...]

    @property
    def sentence(self) -> str:
        """What the round says."""
        hands = sum(a + b for a, b, _ in self.trials)
        p = chance_of(self.trials)
        heard = "very likely heard" if p < 0.05 else "not shown to be heard"
        return (
            f"{self.title}, the whole room ({self.path}): {right_of(self.trials)} of {hands} hands "
            f"right in {len(self.trials)} trials of {self.names[0]} and {self.names[1]}, p = "
            f"{p:.4f}: the difference is {heard}."
        )


def read_room(path) -> Room:
    """The round in a file that the page saved; SceneError, one line."""
    data = loaded(path, ROOM)
    for key, kind in NEEDED.items():
        of_kind(path, data, key, kind)
    sums = sums_of(path, data)
    if data["set"] != blind_test.set_of(sums):
        refuse(path, "set", data["set"], "the name that follows from the sounds' sha256")
    if not FEWEST <= len(data["trials"]) <= MOST:
        told = f"expected {FEWEST} to {MOST} trials, found {len(data['trials'])}"
        raise SceneError(f"{path}: trials: {told}")
    trials = tuple(_trial(path, n, one) for n, one in enumerate(data["trials"], 1))
    pair = tuple(data.get(key) for key in ("a", "b"))
    if not all(type(n) is int and 0 <= n < len(sums) for n in pair):
        raise SceneError(f"{path}: a, b: expected the numbers of two of its sounds")
    text = "/".join([data["set"], *map(str, pair), *(",".join(map(str, t)) for t in trials)])
    if data["seal"] != blind_test.seal(text):
        refuse(path, "seal", data["seal"], "the seal of these hands: the file was changed")
    beside(path, sums)
    names = tuple(str(data["sounds"][n].get("name", n + 1)) for n in pair)
    return Room(str(path), data["title"], names, trials)


def _trial(path, number, trial) -> tuple[int, int, int]:
    if not isinstance(trial, dict):
        refuse(path, f"trials[{number}]", trial, "a table")
    for key, kind in OF_TRIAL.items():
        of_kind(path, trial, key, kind, f"trials[{number}].")
        most = 1 if key == "x" else MOST_HANDS
        if not 0 <= trial[key] <= most:
            refuse(path, f"trials[{number}].{key}", trial[key], f"0 to {most}")
    return trial["hands_a"], trial["hands_b"], trial["x"]
