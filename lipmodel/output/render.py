"""A scene end to end: played, heard, measured, drawn, and written where that is asked for."""

import time
from collections.abc import Iterator
from contextlib import contextmanager, nullcontext
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

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
from lipmodel.studies.directivity import directivity
from lipmodel.studies.dynamics import dynamics
from lipmodel.studies.echo import echoes
from lipmodel.studies.field import field_of_run, waves_of_run
from lipmodel.studies.mirror import mirror
from lipmodel.studies.pair import caption, numbers, one_pitch, portrait
from lipmodel.studies.pedal import pedal_numbers
from lipmodel.studies.steadiness import steadiness
from lipmodel.system.progress import Progress, telling

STAGES = 4  # steps of progress a take


@dataclass(frozen=True)
class Take:
    """One scene or variant as it was played: report.json's dict, `files` (name: bytes) and
    `traces` (name in traces.npz: array), or the folder that holds them."""

    name: str
    report: dict = field(repr=False)
    folder: Path | None = None
    files: dict = field(default_factory=dict, repr=False)
    traces: dict = field(default_factory=dict, repr=False)

    @property
    def sentences(self) -> tuple[str, ...]:
        """What happened, and what to open."""
        shown = [f"Open {self.folder / 'listen.html'}"] if self.folder else []
        return (*self.report["sentences"], *shown)

    @property
    def changed(self) -> tuple[str, ...]:
        """What is different from the scene as written."""
        return tuple(self.report["changed"])

    def file(self, name: str) -> bytes | None:
        """The bytes of a file of the take, None where it has none of this name."""
        if self.folder is None:
            return self.files.get(name)
        path = self.folder / name
        return path.read_bytes() if path.is_file() else None

    def file_names(self) -> list[str]:
        """Names of all its files but the traces, sorted."""
        held = [p.name for p in self.folder.iterdir()] if self.folder else [*self.files]
        return sorted({*held, "report.json"} - {"traces.npz"})

    def trace(self, name: str) -> np.ndarray:
        """An array by its name in traces.npz."""
        if self.folder is None:
            return self.traces[name]
        with np.load(self.folder / "traces.npz") as traces:
            return traces[name]


def render(path, out="renders", *, figures=(), csv=None, progress=None) -> list[Take]:
    """Render the scene file at `path` and its variants into folders under `out`.

    figures: kinds of further pictures ("svg", "pdf"); csv: None, "thin" (1 kHz) or "full";
    progress: None or a callable of (done, total, words).  Returns a `Take` a folder; each is
    complete or absent.  Raises SceneError and SimulationError.

    >>> take, = render("note.toml", "renders")  # doctest: +SKIP
    >>> take.report["notes"][0]["written"], take.folder  # doctest: +SKIP
    """
    return list(rendered(path, out, figures=figures, csv=csv, progress=progress))


def rendered(path, out, *, writer=None, **how) -> Iterator[Take]:
    """Each take of the scene at `path` as it is written under `out`; `how` as in `takes`."""
    for take in takes(path, out, writer=writer, **how):
        yield take if take.folder else write(take, Path(out) / take.name)


def write(take: Take, target: Path) -> Take:
    """The take in a folder `target`, complete or absent."""
    with folders.folder_written(target) as work:
        _fill(work, take)
    return replace(take, folder=target, files={}, traces={})


def _fill(work: Path, take: Take):
    for name, data in take.files.items():
        (work / name).write_bytes(data)
    tables.save_traces(work / "traces.npz", take.traces)


def takes(
    path,
    folder,
    *,
    cast=None,
    figures=(),
    csv=None,
    field=False,
    waves=False,
    writer=None,
    progress=None,
) -> Iterator[Take]:
    """The takes of the scene at `path`, in memory; one too long for that lies under `folder`.

    cast: (variant, performance) pairs, already played, in place of the scene's own variants;
    field: the moving wave of every scene with notes, waves: that of each of them; writer: a second
    process to share between calls.  Raises SceneError and SimulationError.
    """
    cast = cast or [(variant, None) for variant in read_scene(path).variants]
    progress, first = telling(progress), None
    wanted = {"figures": tuple(figures), "csv": csv, "field": field, "waves": waves}
    with nullcontext(writer) if writer else BackgroundWriter() as writer:
        source, mouth = (any(getattr(v.scene, k) for v, _ in cast) for k in ("source", "mouth"))
        compiled = warm_up(progress.say, source, mouth)
        for variant, known in cast:
            name = Path(path).stem
            name += "" if variant.name == AS_WRITTEN else f"-{variant.folder}"
            job = _Job(variant, known, Path(folder) / name, compiled, first, wanted)
            with _naming(path, variant):
                take, seen = _take(job, progress, writer)
            first = first or (variant.name, seen)
            yield take
            compiled = 0.0


@contextmanager
def _naming(path, variant):
    """What fails in a variant is told with the variant's name."""
    as_written = variant.name == AS_WRITTEN
    try:
        yield
    except SimulationError as error:
        label = "" if as_written else f' variant "{variant.name}":'
        raise SimulationError(f"{path}:{label} {error}") from error
    except SceneError as error:
        if as_written:
            raise
        problem = str(error).removeprefix(f"{path}: ")
        raise SceneError(f'{path}: variant "{variant.name}": {problem}') from error


@dataclass(frozen=True)
class _Job:
    """What a take is made of: its performance where it is known, seconds spent compiling, the
    first take's name and portrait, and what is wanted besides."""

    variant: Variant
    known: object
    folder: Path
    compiled: float
    first: tuple | None
    wanted: dict


def _take(job: _Job, progress: Progress, writer):
    """The take and its portrait for the ones that follow."""
    sound, name = job.variant.scene.sound, job.folder.name
    began = time.perf_counter()
    with folders.room_beside(job.folder, round(sound.length_s * sound.rate_hz)) as room:
        progress.step(f"{name}: playing")
        performance = job.known or _played(job.variant.scene, room)
        simulated = time.perf_counter() - began
        progress.step(f"{name}: measuring")
        report = take_report(job.variant, performance.built, performance)
        total = time.perf_counter() - began + job.compiled
        timing = {"compile_s": job.compiled, "simulate_s": simulated, "total_s": total}
        report = {**report, "timing": timing}
        seen = _portrait(job, performance, report)
        traces = run_of(performance).traces()
        made = _described(job, performance, report, traces, seen)
        progress.step(f"{name}: drawing")
        take = _finished(job, made, traces, writer)
        progress.step(f"{name}: written")
    return take, seen


def _played(scene, room):
    built = build(scene)
    return play_source(built) if scene.source else perform(scene, built, room)


def _portrait(job: _Job, performance, report):
    """What this take's first note has to compare, where there are takes to compare it with."""
    scene = job.variant.scene
    compared = scene.player and (job.first is not None or len(scene.variants) > 1)
    return portrait(performance, report["notes"][0]) if compared and report["notes"] else None


def _described(job: _Job, performance, report, traces, seen) -> dict:
    """Plain data from which `take_files` makes the files of the take."""
    scene, pair = job.variant.scene, None
    if job.first and one_pitch(job.first[1], seen):
        both = job.first[1], seen
        pair = {"names": (job.first[0], job.variant.name), "portraits": both}
        pair |= {"caption": caption(*both), "numbers": numbers(*both)}
    notes = scene.player and scene.player.notes
    field = scene.show.field or (job.wanted["field"] and notes)
    waves = job.wanted["waves"] and notes
    return {
        "report": report, "traces": traces, "path": scene.path, "pair": pair,
        "family": None if job.first else bores(scene),
        "pedal": _pedal(performance, report),
        "mirror": mirror(scene) if scene.show.mirror else None,
        "field": field_of_run(performance, report["notes"]) if field else None,
        "waves": waves_of_run(performance, report["notes"]) if waves else [],
        "echo": echoes(scene) if scene.show.echo else None,
        "dynamics": dynamics(performance) if scene.show.dynamics else None,
        "directivity": directivity(performance.built) if scene.show.directivity else None,
        "steady": steadiness(performance, report["notes"]) if scene.show.steadiness else None,
        "figures": job.wanted["figures"], "csv": job.wanted["csv"],
    }  # fmt: skip


def _finished(job: _Job, made: dict, traces: dict, writer) -> Take:
    """The take in memory, or, where it is too long for that, in its folder."""
    if len(traces["time_s"]) <= HELD:
        return Take(job.folder.name, *_files(writer, made, None), traces)
    with folders.folder_written(job.folder) as work:
        report, folder, files = _files(writer, made, work)
        _fill(work, Take(job.folder.name, report, folder, files, traces))
    return Take(job.folder.name, report, job.folder)


def _files(writer, made: dict, folder) -> tuple:
    """Report, None and files; SceneError where the sound is refused."""
    check_stop()
    finished = writer.finish(made | {"folder": folder})
    if "refused" in finished:
        raise SceneError(finished["refused"])
    report = finished["report"]
    return report, None, finished["files"] | {"report.json": tables.json_text(report).encode()}


def _pedal(performance, report) -> dict | None:
    """Numbers of the first note that is played at the open tube's fundamental, if there is one."""
    if performance.built.scene.source or not performance.gesture.notes:
        return None
    base = fingering.fundamental(performance.built.spec)
    for number, note in enumerate(performance.gesture.notes):
        if note.semitone == base and number < len(report["notes"]):
            seen = portrait(performance, report["notes"][number], number)
            return seen and pedal_numbers(seen, report["resonances"])
    return None
