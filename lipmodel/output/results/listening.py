"""Sounds to compare, and what blind listeners heard of them, as results: `lipmodel.compare` and
`lipmodel.blind_results`."""

from pathlib import Path

from lipmodel.output import compare as sets
from lipmodel.output.results.arguments import check_scene
from lipmodel.output.results.result import Result
from lipmodel.studies import blind_results as results
from lipmodel.studies import blind_test


class Comparison(Result):
    """`sounds`: a row a sound, as in compare.json, what changed and how it differs from the
    first; `held`: what the player kept."""

    __slots__ = ("made",)

    def align(self) -> tuple:
        """The sounds themselves, equally loud, from one start and of one length: arrays of
        samples at `rate_hz`, full scale 1."""
        return tuple(self.made["samples"])

    def write(self, folder) -> Path:
        """The folder of `lipmodel compare`: pages, picture, sounds; complete or absent."""
        sets.write(self.made, Path(folder))
        return Path(folder)


class BlindResults(Result):
    """`listeners`: scores, chances (p) and intervals (shares right); `group`: what they have in
    common (None where there are too few)."""

    __slots__ = ()


def compare(scenes, hold="lips", *, progress=None) -> Comparison:
    """Scenes, with their variants, equally loud and from one start, measured beside the first.

    scenes: a Scene, or several; hold: what the player keeps, "lips", "pitch" or "effort";
    progress: None or a callable of (done, total, words).  Raises TypeError and SceneError.

    >>> found = compare([scene, scene.replace({"instrument.bell": "none"})])  # doctest: +SKIP
    >>> found.sentences[0], found.sounds[1].differs  # doctest: +SKIP
    """
    given = list(scenes) if isinstance(scenes, list | tuple) else [scenes]
    for scene in given:
        check_scene("compare", scene)
    return comparison_of(sets.compare(given, hold, progress=progress))


def comparison_of(made: dict) -> Comparison:
    """The result of a set that has been made."""
    result = Comparison(made["document"], _compared_drawn, made["document"]["sentences"])
    object.__setattr__(result, "made", made)
    return result


def blind_results(paths) -> BlindResults:
    """What blind listeners heard, from the files that the blind page saves.

    paths: of files of results of one set.  Raises SceneError.

    >>> found = blind_results(["anna.json", "ben.json"])  # doctest: +SKIP
    >>> found.listeners[0].right, found.sentences[1]  # doctest: +SKIP
    """
    sessions = results.read_sessions(paths)
    rows = [
        {
            "code": s.code, "right": s.right, "count": s.count,
            "p": blind_test.chance_of(s.right, s.count),
            "interval": list(blind_test.interval(s.right, s.count)),
            "catch_agreed": s.agreed, "catch_count": s.caught,
        }
        for s in sessions
    ]  # fmt: skip
    found = blind_test.group([s.right for s in sessions], [s.count for s in sessions])
    group = {"mean": found.mean, "spread": found.spread, "low": found.low, "high": found.high}
    document = {
        "title": sessions[0].title, "set": sessions[0].set, "listeners": rows,
        "group": None if found.low is None else group,
    }  # fmt: skip
    return BlindResults(document, _blind_drawn, results.sentences(sessions))


def _compared_drawn(result: Comparison):
    from lipmodel.output.pictures.compare import compare_figure

    names = [row.name for row in result.sounds]
    return compare_figure(result.title, names, result.made["curves"])


def _blind_drawn(result: BlindResults):
    from lipmodel.output.pictures.blind_results import blind_results_figure

    return blind_results_figure(result.to_dict())
