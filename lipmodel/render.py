"""A scene end to end: played, heard, measured, drawn and written."""

import copy
import os
import tempfile
import threading
import time
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np

from lipmodel import borefile, files, report, sound
from lipmodel.analysis.notes import jumps
from lipmodel.build import Built, build
from lipmodel.errors import SceneError
from lipmodel.perform import perform
from lipmodel.run import run_of
from lipmodel.scene import Scene, Variant, read_scene
from lipmodel.sentences import sentences

STAGES = 4  # steps of progress a take
PATIENCE = 1.0  # s, after which a first call is taken to be compiling
DPI = 100


@dataclass(frozen=True)
class Take:
    """One folder that was written."""

    folder: Path
    report: dict
    sentences: tuple[str, ...]
    changed: tuple[str, ...]


def version() -> str:
    from importlib import metadata

    try:
        return metadata.version("lipmodel")
    except metadata.PackageNotFoundError:
        return "unknown"


def warm(say=lambda text: None) -> float:
    """Compile the time loop or load it from the cache; seconds taken.

    `say` is called with a sentence when it takes long enough to be the compiler.
    """
    began = time.perf_counter()
    told = "compiling the time loop, once on this machine (about half a minute) ..."
    timer = threading.Timer(PATIENCE, say, (told,))
    timer.daemon = True
    timer.start()
    try:
        _first_call()
    finally:
        timer.cancel()
    return time.perf_counter() - began


@lru_cache(maxsize=1)
def _first_call():
    from lipmodel.air import Air
    from lipmodel.bore import Bore
    from lipmodel.lips import SMALL
    from lipmodel.simulate import Block, Horn, advance, start
    from lipmodel.waveguide import start_ladder

    _cache_somewhere()
    air = Air.at(20.0)
    horn = Horn(start_ladder(Bore([0, 0.3], [6e-3, 6e-3]), air, 48_000.0), SMALL, air.density)
    block = Block(np.zeros(4), np.full(4, 200.0))
    for book in (False, True):
        advance(horn, start(horn), block, book)


def _cache_somewhere():
    """Where neither the package's folder nor the user's own can be written, compile into a
    temporary one rather than fail."""
    from numba.core import config

    own = Path(__file__).parent / "__pycache__"
    home = Path.home()
    writable = os.access(own if own.exists() else own.parent, os.W_OK) or os.access(home, os.W_OK)
    if not config.CACHE_DIR and not writable:
        config.CACHE_DIR = str(Path(tempfile.gettempdir()) / f"lipmodel-{os.getuid()}")


def render(path, out="renders", *, say=lambda text: None, step=lambda words: None, options=None):
    """Render the scene file at `path` and its variants into folders under `out`.

    Returns a list of `Take`.  `say` gets sentences about what takes long, `step` the words of
    each stage as it begins; `options` may hold figures ("svg", "pdf") and csv ("thin", "full").
    Raises SceneError and SimulationError; a folder is complete or absent.
    """
    scene = read_scene(path)
    out = Path(out)
    compiled = warm(say)
    takes = []
    for variant in scene.variants:
        name = Path(path).stem + ("" if variant.scene is scene else f"-{variant.folder}")
        takes.append(_take(variant, out / name, compiled, step, options or {}))
        compiled = 0.0
    return takes


def _take(variant: Variant, folder: Path, compiled: float, step, options) -> Take:
    began = time.perf_counter()
    scene = variant.scene
    step(f"{folder.name}: playing")
    built = build(scene)
    performance = perform(scene, built)
    simulated = time.perf_counter() - began
    run = run_of(performance)
    leveled = _leveled(scene, run)
    step(f"{folder.name}: listening")
    found = _report(variant, built, performance, leveled)
    wav = files.sound_bytes(leveled.samples, run.rate)
    found["sha256"] = files.digest(wav)
    told = sentences(found, found.pop("jump_count"), None)
    found["sentences"] = told
    found["changed"] = list(variant.changed)
    found["timing"] = {
        "compile_s": compiled,
        "simulate_s": simulated,
        "total_s": time.perf_counter() - began + compiled,
    }
    step(f"{folder.name}: drawing")
    _write(folder, scene, found, run, leveled, wav, options)
    step(f"{folder.name}: written")
    shown = [*told, f"Open {folder / 'listen.html'}"]
    return Take(folder, found, tuple(shown), variant.changed)


def _leveled(scene: Scene, run) -> sound.Leveled:
    pressure = run.radiated_pressure
    if scene.sound.level == "matched":
        return sound.matched(pressure, run.rate, scene.sound.loudness_lufs)
    try:
        return sound.calibrated(pressure, run.rate)
    except ValueError as error:
        raise SceneError(f'{scene.path}: sound.level = "calibrated": {error}') from error


def _report(variant, built: Built, performance, leveled) -> dict:
    scene = variant.scene
    rows = report.resonance_rows(built)
    valved = lru_cache(lambda valves: _valved(built, valves))
    notes = report.Notes(performance, rows, valved)
    jumped = jumps(notes.times, notes.track)
    return {
        "scene": Path(scene.path).name,
        "variant": variant.name,
        "title": scene.title or Path(scene.path).stem,
        "version": version(),
        "rate_hz": built.rate,
        "length_s": scene.sound.length_s,
        "inputs": scene.inputs(),
        "sha256": "",
        "sentences": [],
        "changed": [],
        "air": report.air_row(built),
        "resonances": rows,
        "pitch": report.pitch_rows(notes.times, notes.track),
        "notes": notes.rows(),
        "level": report.level_rows(built, leveled, performance.radiated_pressure),
        "energy": report.energy_rows(performance),
        "jump_count": len(jumped) if scene.player.tension_hz is not None else 0,
    }


def _valved(built: Built, valves: str) -> list[dict]:
    given = built.scene.instrument
    bore = borefile.to_bore(
        built.spec,
        valves=borefile.valve_set(built.spec, valves),
        tuning_slide_pull_mm=given.tuning_slide_pull_mm,
    )
    return report.resonance_rows(built, bore)


def _write(folder: Path, scene: Scene, found: dict, run, leveled, wav: bytes, options):
    from lipmodel.pages.listen import listen_page
    from lipmodel.pictures.played import played_figure
    from lipmodel.pictures.save import figure_bytes

    traces = run.traces()
    figure = played_figure(copy.deepcopy(found), traces)
    picture = figure_bytes(figure, "png", DPI)
    flac = files.sound_bytes(leveled.samples, run.rate, "flac")
    page = listen_page(found, flac, "audio/flac", picture)
    with files.folder_written(folder) as work:
        (work / "sound.wav").write_bytes(wav)
        (work / "picture.png").write_bytes(picture)
        (work / "listen.html").write_text(page, encoding="utf-8")
        (work / "report.json").write_text(files.json_text(found), encoding="utf-8")
        files.save_traces(work / "traces.npz", traces)
        for kind in dict.fromkeys(scene.sound.also):
            data = files.sound_bytes(leveled.samples, run.rate, kind)
            (work / f"sound.{kind}").write_bytes(data)
        for kind in options.get("figures", ()):
            (work / f"picture.{kind}").write_bytes(figure_bytes(figure, kind, DPI))
        if options.get("csv"):
            text = files.traces_csv(traces, run.rate, options["csv"] == "full")
            (work / "traces.csv").write_text(text, encoding="utf-8")
