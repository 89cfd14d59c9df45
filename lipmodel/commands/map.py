"""lipmodel map"""

import sys
from pathlib import Path

from lipmodel.commands import target
from lipmodel.commands.progress import TIME_LEFT, bar
from lipmodel.errors import SceneError
from lipmodel.files import folders, tables
from lipmodel.output.wording import heading
from lipmodel.player.note_names import resonance_rows
from lipmodel.player.warm_up import warm_up
from lipmodel.scene.scene import read_scene
from lipmodel.studies import map, map_document
from lipmodel.studies.map import NoteMap, refuse_too_many
from lipmodel.studies.map_document import map_sentences, table_csv
from lipmodel.system.cluster import LOCAL, size
from lipmodel.system.tasks import workers_asked
from lipmodel.system.workers import get_ready
from lipmodel.units import note_frequency, note_name


def run(args) -> int:
    if args.cluster and args.workers is not None:
        raise SceneError("--workers: expected to be left out with --cluster")
    how = args.cluster or workers_asked(args.workers)
    workers = size(how)
    scene = read_scene(args.scene)
    scene.needs_player("lipmodel map")
    place = target.folder(args.out, f"{Path(args.scene).stem}-map")
    folders.refuse_to_replace(place)
    if not args.cluster:
        get_ready(workers, map.PRELOAD)
    survey = NoteMap(scene, place)
    refuse_too_many(survey, args.scene, workers)
    survey.workers = workers
    if args.cluster in (None, LOCAL):
        # before the workers start: they find the time loop compiled
        warm_up(lambda text: print(text, file=sys.stderr))
    if survey.resume():
        print(f"going on with what {survey.kept} has kept", file=sys.stderr)
    _survey(survey, how)
    document = map_document.document(survey)
    rows = resonance_rows(survey.built)
    _write(place, survey, document, rows)
    if not survey.problems:
        survey.forget()
    if args.json:
        print(tables.json_text(document), end="")
    else:
        for sentence in map_sentences(document, rows, scene.notes.read_as):
            print(sentence)
        print(f"Wrote {place / 'picture.png'}, map.json and map.csv")
    return 0


def _survey(survey: NoteMap, how):
    with bar(form=TIME_LEFT) as progress:
        try:
            survey.run(how, lambda done, total: progress.reach(done, total, "map"))
        except KeyboardInterrupt as stop:
            stop.args = (_stopped(survey),)
            raise
    if survey.problems and not survey.cells_done:
        first = next(iter(survey.problems.values()))
        raise SceneError(f"no cell of the map could be worked out: {first}")


def _stopped(survey: NoteMap) -> str:
    rows, columns = survey.grid.shape
    if not survey.done.any():
        return "stopped before anything was finished; nothing was left half-written"
    return (
        f"stopped; {survey.cells_done} of {rows * columns} cells are kept in {survey.kept}: "
        "the same command goes on from there"
    )


def _write(place: Path, survey: NoteMap, document: dict, rows):
    from lipmodel.output.pictures.image_file import figure_bytes
    from lipmodel.output.pictures.map import map_figure

    scene = survey.built.scene
    title = heading({"title": scene.title, "scene": Path(scene.path).stem})
    figure = map_figure(title, document, rows, scene.notes.read_as, _named(survey))
    with folders.folder_written(place) as work:
        (work / "picture.png").write_bytes(figure_bytes(figure))
        (work / "map.json").write_text(tables.json_text(document), encoding="utf-8")
        (work / "map.csv").write_text(table_csv(document), encoding="utf-8")


def _named(survey: NoteMap) -> list[tuple[float, str]]:
    """(Hz, name) of every C, E and G as the scene names notes first."""
    notes = survey.built.scene.notes
    shift = survey.built.transposition if notes.read_as == "written" else 0
    return [
        (note_frequency(m + shift, notes.a4_hz), note_name(m, notes.spelling))
        for octave in range(12, 108, 12)
        for m in (octave, octave + 4, octave + 7)
    ]
