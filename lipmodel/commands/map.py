"""lipmodel map"""

import sys
from pathlib import Path

from lipmodel.commands import target
from lipmodel.commands.progress import TIME_LEFT, bar
from lipmodel.errors import SceneError
from lipmodel.files import folders, tables
from lipmodel.output.results.map import Map, map_of
from lipmodel.player.warm_up import warm_up
from lipmodel.scene.scene import read_scene
from lipmodel.studies import map
from lipmodel.studies.map import MouthRows, NoteMap, refuse_too_many, wrong_rows
from lipmodel.studies.map_document import table_csv
from lipmodel.system.cluster import LOCAL, size
from lipmodel.system.tasks import workers_asked
from lipmodel.system.workers import get_ready


def run(args) -> int:
    if args.cluster and args.workers is not None:
        raise SceneError("--workers: expected to be left out with --cluster")
    led = _mouth_rows(args)
    how = args.cluster or workers_asked(args.workers)
    workers = size(how)
    scene = read_scene(args.scene)
    scene.needs_player("lipmodel map")
    place = target.folder(args.out, f"{Path(args.scene).stem}-{'mouth-' * bool(led)}map")
    folders.refuse_to_replace(place)
    if not args.cluster:
        get_ready(workers, map.PRELOAD)
    survey = NoteMap(scene, place, led=led)
    refuse_too_many(survey, args.scene, workers)
    survey.workers = workers
    if args.cluster in (None, LOCAL):
        # before the workers start: they find the time loop compiled
        mouth = survey.built.horn.mouth is not None
        warm_up(lambda text: print(text, file=sys.stderr), mouth=mouth)
    if survey.resume():
        print(f"going on with what {survey.kept} has kept", file=sys.stderr)
    _survey(survey, how)
    found = map_of(survey)
    _write(place, found)
    if not survey.problems:
        survey.forget()
    if args.json:
        print(tables.json_text(found.to_dict()), end="")
    else:
        for sentence in found.sentences:
            print(sentence)
        print(f"Wrote {place / 'picture.png'}, map.json and map.csv")
    return 0


def _mouth_rows(args) -> MouthRows | None:
    mouth = args.mouth_hz and [_number(text) for text in args.mouth_hz]
    pressure = args.pressure_kpa and _number(args.pressure_kpa)
    if problem := wrong_rows(mouth, pressure, _option):
        name, _, expected = problem
        given = getattr(args, name)
        words = given if isinstance(given, str) else " ".join(given)
        raise SceneError(f"{_option(name)} {words}: expected {expected}")
    return mouth and MouthRows(tuple(mouth), pressure)


def _number(text: str) -> float | str:
    try:
        return float(text)
    except ValueError:
        return text  # told as what it is


def _option(name: str) -> str:
    return f"--{name.replace('_', '-')}"


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


def _write(place: Path, found: Map):
    from lipmodel.output.pictures.image_file import figure_bytes

    document = found.to_dict()
    with folders.folder_written(place) as work:
        (work / "picture.png").write_bytes(figure_bytes(found.figure()))
        (work / "map.json").write_text(tables.json_text(document), encoding="utf-8")
        (work / "map.csv").write_text(table_csv(document), encoding="utf-8")
