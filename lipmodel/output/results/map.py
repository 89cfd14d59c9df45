"""The map of a scene as a result: `lipmodel.map`."""

from lipmodel.output.results.arguments import check_scene, wrong
from lipmodel.output.results.result import Result, title_of
from lipmodel.player.note_names import resonance_rows
from lipmodel.player.warm_up import warm_up
from lipmodel.studies import map as study
from lipmodel.studies import map_document
from lipmodel.system.progress import telling
from lipmodel.units import note_frequency, note_name


class Map(Result):
    """Columns are lip settings (`tension_hz`), rows breaths (`pressure_kpa`), or resonances of the
    mouth (`mouth_hz`, only there) at one breath; `frequency_hz`,
    `partial`, `lock`, `state` and `rms_pa` are rows of cells, as in map.json."""

    __slots__ = ("built", "resonances")


def map(
    scene,
    *,
    mouth_hz=None,
    pressure_kpa=None,
    workers=1,
    cluster=None,
    keep=None,
    progress=None,
) -> Map:
    """Every lip setting at every breath of the grid of `scene`: which note sounds where.

    mouth_hz: (from, to), then rows are resonances of the mouth at the one breath `pressure_kpa`;
    workers: processes; cluster: a Dask scheduler's address, or "local", in their place; keep: a
    path beside which what is finished is kept, and taken up again; progress: None or a callable
    of (done, total, words).  Raises TypeError and SceneError.

    >>> found = map(scene, workers=2)  # doctest: +SKIP
    >>> found.lock[0], found.sentences[0]  # doctest: +SKIP
    """
    check_scene("map", scene)
    scene.needs_player("map")
    if problem := study.wrong_rows(mouth_hz, pressure_kpa):
        raise wrong("map", *problem)
    led = None if mouth_hz is None else study.MouthRows(tuple(mouth_hz), pressure_kpa)
    told = telling(progress)
    survey = study.NoteMap(scene, keep, led=led)
    survey.workers = workers
    warm_up(told.say, mouth=survey.built.horn.mouth is not None)
    if keep:
        survey.resume()
    survey.run(cluster or workers, lambda done, total: told.reach(done, total, "map"))
    if keep and not survey.problems:
        survey.forget()
    return map_of(survey)


def map_of(survey) -> Map:
    """The result of a NoteMap that has been played."""
    document, rows = map_document.document(survey), resonance_rows(survey.built)
    first = survey.built.scene.notes.read_as
    result = Map(document, _drawn, map_document.map_sentences(document, rows, first))
    object.__setattr__(result, "built", survey.built)
    object.__setattr__(result, "resonances", rows)
    return result


def _drawn(result: Map):
    from lipmodel.output.pictures.map import map_figure

    scene = result.built.scene
    return map_figure(
        title_of(scene), result.to_dict(), result.resonances, scene.notes.read_as,
        _named(result.built),
    )  # fmt: skip


def _named(built) -> list[tuple[float, str]]:
    """(Hz, name) of every C, E and G as the scene names notes first."""
    notes = built.scene.notes
    shift = built.transposition if notes.read_as == "written" else 0
    return [
        (note_frequency(m + shift, notes.a4_hz), note_name(m, notes.spelling))
        for octave in range(12, 108, 12)
        for m in (octave, octave + 4, octave + 7)
    ]
