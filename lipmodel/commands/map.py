"""lipmodel map"""

import sys
from pathlib import Path

from lipmodel import files, mapping
from lipmodel.errors import SceneError
from lipmodel.mapping import Survey, refuse_too_many, table_csv
from lipmodel.pictures import heading
from lipmodel.rendering import warm
from lipmodel.report import resonance_rows
from lipmodel.scene import read_scene
from lipmodel.sweep import LOCAL, get_ready, size, workers_asked
from lipmodel.units import note_frequency, note_name

STATES = ("locked", "bent", "free", "unsteady", "silent")
HELD, STEADY = STATES[:2], STATES[:3]


def run(args) -> int:
    if args.cluster and args.workers is not None:
        raise SceneError("--workers: expected to be left out with --cluster")
    how = args.cluster or workers_asked(args.workers)
    workers = size(how)
    scene = read_scene(args.scene)
    scene.needs_player("lipmodel map")
    target = Path(args.out or Path("renders") / f"{Path(args.scene).stem}-map")
    files.refuse_to_replace(target)
    if not args.cluster:
        get_ready(workers, mapping.PRELOAD)
    survey = Survey(scene, target)
    refuse_too_many(survey, args.scene, workers)
    survey.workers = workers
    if args.cluster in (None, LOCAL):
        # before the workers start: they find the time loop compiled
        warm(lambda text: print(text, file=sys.stderr))
    if survey.resume():
        print(f"going on with what {survey.kept} has kept", file=sys.stderr)
    _survey(survey, how)
    document = mapping.document(survey)
    rows = resonance_rows(survey.built)
    _write(target, survey, document, rows)
    if not survey.problems:
        survey.forget()
    if args.json:
        print(files.json_text(document), end="")
    else:
        for sentence in _sentences(document, rows, scene.notes.read_as):
            print(sentence)
        print(f"Wrote {target / 'picture.png'}, map.json and map.csv")
    return 0


def _survey(survey: Survey, how):
    from tqdm import tqdm

    with tqdm(disable=not sys.stderr.isatty(), leave=False, file=sys.stderr,
              bar_format="{desc} {bar} {n_fmt}/{total_fmt} {remaining}") as bar:  # fmt: skip
        bar.set_description_str("map")

        def progress(done, total):
            bar.total = total
            bar.update(done - bar.n)

        try:
            survey.run(how, progress)
        except KeyboardInterrupt as stop:
            stop.args = (_stopped(survey),)
            raise
    if survey.problems and not survey.cells_done:
        first = next(iter(survey.problems.values()))
        raise SceneError(f"no cell of the map could be worked out: {first}")


def _stopped(survey: Survey) -> str:
    rows, columns = survey.grid.shape
    if not survey.done.any():
        return "stopped before anything was finished; nothing was left half-written"
    return (
        f"stopped; {survey.cells_done} of {rows * columns} cells are kept in {survey.kept}: "
        "the same command goes on from there"
    )


def _write(target: Path, survey: Survey, document: dict, rows):
    from lipmodel.pictures.map import map_figure
    from lipmodel.pictures.save import figure_bytes

    scene = survey.built.scene
    title = heading({"title": scene.title, "scene": Path(scene.path).stem})
    figure = map_figure(title, document, rows, scene.notes.read_as, _named(survey))
    with files.folder_written(target) as work:
        (work / "picture.png").write_bytes(figure_bytes(figure))
        (work / "map.json").write_text(files.json_text(document), encoding="utf-8")
        (work / "map.csv").write_text(table_csv(document), encoding="utf-8")


def _named(survey: Survey) -> list[tuple[float, str]]:
    """(Hz, name) of every C, E and G as the scene names notes first."""
    notes = survey.built.scene.notes
    shift = survey.built.transposition if notes.read_as == "written" else 0
    return [
        (note_frequency(m + shift, notes.a4_hz), note_name(m, notes.spelling))
        for octave in range(12, 108, 12)
        for m in (octave, octave + 4, octave + 7)
    ]


def _sentences(document: dict, rows, first) -> list[str]:
    """What a teacher wants to know first."""
    told = [_sounded(document, {r["n"]: r[first] for r in rows}, first)]
    flat = [state for row in document["state"] for state in row]
    counts = [f"{flat.count(state)} {state}" for state in STATES if state in flat]
    workers = document["workers"]
    told.append(
        f"{len(flat)} cells ({', '.join(counts)}) in {document['seconds']:.0f} s with "
        f"{workers} worker{'s' * (workers > 1)}."
    )
    if document["lost"]:
        missing = f"{flat.count(None)} cells are" if None in flat else "Part of the theory is"
        told.append(
            f"{missing} missing ({'; '.join(document['lost'])}): the same command tries them again."
        )
    return told


def _sounded(document: dict, names: dict, first) -> str:
    lowest: dict[int, float] = {}
    sounding = []
    tables = (document[name] for name in ("pressure_kpa", "partial", "state"))
    for pressure, partials, states in zip(*tables, strict=True):
        sounding += [pressure] * any(state in STEADY for state in states)
        for n, state in zip(partials, states, strict=True):
            if n and state in HELD:
                lowest.setdefault(n, pressure)
    low, high = document["tension_hz"][0], document["tension_hz"][-1]
    soft, loud = document["pressure_kpa"][0], document["pressure_kpa"][-1]
    where = f"lips set to {low:.0f} to {high:.0f} Hz, {soft:g} to {loud:g} kPa"
    if not sounding:
        return f"Nothing sounded a note anywhere ({where}); blow harder or set the lips lower."
    if not lowest:
        return f"From {sounding[0]:.1f} kPa the pitch only glides with the lips ({where})."
    each = [f"{n} {names[n]} from {lowest[n]:.1f} kPa" for n in sorted(lowest)]
    return f"Partials that sounded ({first} notes, softest breath): {', '.join(each)}."
