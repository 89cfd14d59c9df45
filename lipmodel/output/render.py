"""A scene end to end: played, heard, measured, drawn and written."""

import time
from contextlib import nullcontext
from dataclasses import dataclass
from pathlib import Path

from lipmodel.errors import SceneError, SimulationError, check_stop
from lipmodel.files import folders, tables
from lipmodel.files.long_arrays import HELD
from lipmodel.output.background import BackgroundWriter
from lipmodel.output.report import take_report
from lipmodel.player import fingering
from lipmodel.player.build import build
from lipmodel.player.performance import perform
from lipmodel.player.run import run_of
from lipmodel.player.source import play_source
from lipmodel.player.warm_up import warm_up
from lipmodel.scene.scene import Variant, read_scene
from lipmodel.scene.variants import AS_WRITTEN
from lipmodel.studies.bores import bores
from lipmodel.studies.dynamics import dynamics
from lipmodel.studies.echo import echoes
from lipmodel.studies.field import field_of_run
from lipmodel.studies.mirror import mirror
from lipmodel.studies.pair import caption, numbers, one_pitch, portrait
from lipmodel.studies.pedal import pedal_numbers

STAGES = 4  # steps of progress a take


@dataclass(frozen=True)
class Take:
    """One folder that was written."""

    folder: Path
    report: dict
    sentences: tuple[str, ...]
    changed: tuple[str, ...]


def render(
    path,
    out="renders",
    *,
    say=lambda text: None,
    step=lambda words: None,
    options=None,
    studio=None,
    done=lambda take: None,
    cast=None,
):
    """Render the scene file at `path` and its variants into folders under `out`.

    Returns a list of `Take`.  `say` gets sentences about what takes long, `step` the words of
    each stage as it begins; `options` may hold figures ("svg", "pdf"), csv ("thin", "full") and
    field (True: of every scene with notes);
    `studio` is a second process to share between calls; `done` gets each `Take` as it is written.
    `cast`: (variant, performance) pairs, already played, in place of the scene's own variants.
    Raises SceneError and SimulationError; a folder is complete or absent.
    """
    cast = cast or [(variant, None) for variant in read_scene(path).variants]
    out, options = Path(out), options or {}
    with nullcontext(studio) if studio else BackgroundWriter() as studio:
        compiled = warm_up(say, any(v.scene.source for v, _ in cast))
        takes, first = [], None
        for variant, known in cast:
            as_written = variant.name == AS_WRITTEN
            name = Path(path).stem + ("" if as_written else f"-{variant.folder}")
            try:
                with folders.room_beside(out / name, _samples(variant.scene)) as room:
                    job = _Job(variant, known, out / name, compiled, first, room)
                    take, seen = _take(job, step, options, studio)
                takes.append(take)
                first = first or (variant.name, seen)
            except SimulationError as error:
                label = "" if as_written else f' variant "{variant.name}":'
                raise SimulationError(f"{path}:{label} {error}") from error
            except SceneError as error:
                if as_written:
                    raise
                told = str(error).removeprefix(f"{path}: ")
                raise SceneError(f'{path}: variant "{variant.name}": {told}') from error
            done(takes[-1])
            compiled = 0.0
    return takes


@dataclass(frozen=True)
class _Job:
    """What a take is made of: its performance where it is known, seconds spent compiling, and
    the first take's name and portrait."""

    variant: Variant
    known: object
    folder: Path
    compiled: float
    first: tuple | None
    room: object  #: for long traces


def _take(job: _Job, step, options, studio):
    """The take, written, and its portrait for the ones that follow."""
    began = time.perf_counter()
    variant, folder, compiled, first = job.variant, job.folder, job.compiled, job.first
    scene = variant.scene
    step(f"{folder.name}: playing")
    built = job.known.built if job.known else build(scene)
    performance = job.known or (
        play_source(built) if scene.source else perform(scene, built, job.room)
    )
    simulated = time.perf_counter() - began
    step(f"{folder.name}: measuring")
    found = take_report(variant, built, performance)
    found["timing"] = {
        "compile_s": compiled,
        "simulate_s": simulated,
        "total_s": time.perf_counter() - began + compiled,
    }
    compared = scene.player and (first is not None or len(scene.variants) > 1)
    seen = portrait(performance, found["notes"][0]) if compared and found["notes"] else None
    pair = None
    if first and one_pitch(first[1], seen):
        found["pair"] = numbers(first[1], seen)
        pair = {"names": (first[0], variant.name), "portraits": (first[1], seen)}
        pair["caption"] = caption(first[1], seen)
    traces = run_of(performance).traces()
    step(f"{folder.name}: drawing")
    told = {
        "report": found,
        "traces": traces,
        "path": scene.path,
        "pair": pair,
        "family": None if first else bores(scene),
        "pedal": _pedal(performance, found),
        **_shown(scene, performance, found, options),
        "figures": tuple(options.get("figures", ())),
        "csv": options.get("csv"),
    }
    long = len(traces["time_s"]) > HELD
    # what is short is refused, if it is, before there is a folder
    finished = None if long else _finished(studio, told, None)
    with folders.folder_written(folder) as work:
        finished = finished or _finished(studio, told, work)
        found = finished["report"]
        for name, data in finished["files"].items():
            (work / name).write_bytes(data)
        (work / "report.json").write_text(tables.json_text(found), encoding="utf-8")
        tables.save_traces(work / "traces.npz", traces)
    step(f"{folder.name}: written")
    shown = [*found["sentences"], f"Open {folder / 'listen.html'}"]
    return Take(folder, found, tuple(shown), tuple(found["changed"])), seen


def _finished(studio, told, folder) -> dict:
    check_stop()
    finished = studio.finish(told | {"folder": folder})
    if "refused" in finished:
        raise SceneError(finished["refused"])
    return finished


def _samples(scene) -> int:
    return round(scene.sound.length_s * scene.sound.rate_hz)


def _shown(scene, performance, found, options) -> dict:
    """What [show] or `options` ask for besides, None where they do not."""
    show = scene.show
    field = show.field or (options.get("field") and scene.player and scene.player.notes)
    return {
        "mirror": mirror(scene) if show.mirror else None,
        "field": field_of_run(performance, found["notes"]) if field else None,
        "echo": echoes(scene) if show.echo else None,
        "dynamics": dynamics(performance) if show.dynamics else None,
    }


def _pedal(performance, found) -> dict | None:
    """Numbers of the first note that is played at the open tube's fundamental, if there is one."""
    if performance.built.scene.source or not performance.gesture.notes:
        return None
    base = fingering.fundamental(performance.built.spec)
    for number, note in enumerate(performance.gesture.notes):
        if note.semitone == base and number < len(found["notes"]):
            seen = portrait(performance, found["notes"][number], number)
            return seen and pedal_numbers(seen, found["resonances"])
    return None
