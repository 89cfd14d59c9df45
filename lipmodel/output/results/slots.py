"""Slots of a scene as a result: `lipmodel.slots`."""

import numpy as np

from lipmodel.acoustics.impedance import impedance
from lipmodel.output.results.arguments import check_scene
from lipmodel.output.results.result import Result, title_of
from lipmodel.player.build import build
from lipmodel.studies import slots as study
from lipmodel.system.progress import telling


class Slots(Result):
    """`up`, `down`: rows of slots as `lipmodel slots --json` has them (Hz, cents, kPa); `sweep`:
    the curves of both ways; `found`: the sweeps themselves."""

    __slots__ = ("built", "found")


def slots(scene, *, progress=None) -> Slots:
    """The lip setting of `scene` swept slowly up and down: where each note holds and jumps.

    scene: a Scene with a player; progress: None or a callable of (done, total, words).  Raises
    TypeError, and SceneError where nothing sounds.

    >>> found = slots(scene)  # doctest: +SKIP
    >>> found.up[0].playing_hz, found.to_dict()["up"][0]["lock"]  # doctest: +SKIP
    """
    check_scene("slots", scene)
    scene.needs_player("slots")
    told, built = telling(progress), build(scene)
    found = study.slots(built, lambda words: told.step(f"sweeping {words}"))
    rows = (("up", found.up_rows), ("down", found.down_rows))
    sentences = [f"{len(r)} slot{'s' * (len(r) != 1)} going {way}." for way, r in rows if r] or [
        "No slot: the pitch follows the lips."
    ]
    result = Slots(study.slots_document(found), _drawn, sentences)
    object.__setattr__(result, "built", built)
    object.__setattr__(result, "found", found)
    return result


def _drawn(result: Slots):
    from lipmodel.output.pictures.slots import slots_figure

    built, found = result.built, result.found
    frequency = np.arange(20.0, 1.3 * float(found.up.tension.max()), 1.0)
    size = np.abs(impedance(built.bore, built.air, frequency))
    return slots_figure(
        title_of(built.scene), result.to_dict(), found.resonances, (frequency, size),
        built.transposition, built.scene.notes.a4_hz,
    )  # fmt: skip
