"""A scene as played, as a value: the arrays of `traces.npz`."""

from dataclasses import dataclass, field

import numpy as np

from lipmodel.files.long_arrays import TimeAxis
from lipmodel.player.build import build
from lipmodel.player.performance import Performance, perform
from lipmodel.player.source import SourceRun, play_source
from lipmodel.scene.scene import Scene

UNITS = {  # name here: name in traces.npz
    "time": "time_s",
    "mouth_pressure": "mouth_pressure_pa",
    "mouthpiece_pressure": "mouthpiece_pressure_pa",
    "lip_opening": "lip_opening_m2",
    "flow": "flow_m3_s",
    "radiated_pressure": "radiated_pressure_pa",
    "tension": "tension_hz",
    "radiated_pressure_right": "radiated_pressure_right_pa",
}
EARS = ("radiated_pressure", "radiated_pressure_right")


@dataclass(frozen=True, eq=False)
class Run:
    """Arrays of shape (n,), SI, read-only, or, of a long take, traces that are sliced like them;
    `rate` in Hz; the scene that was played."""

    rate: float
    time: np.ndarray
    mouth_pressure: np.ndarray
    mouthpiece_pressure: np.ndarray
    lip_opening: np.ndarray
    flow: np.ndarray
    radiated_pressure: np.ndarray
    tension: np.ndarray
    radiated_pressure_right: np.ndarray | None = None  #: with two ears; the other is the left's
    scene: Scene | None = None
    performance: object = field(default=None, compare=False)  #: what studies look into

    def __repr__(self):
        title = self.scene and (self.scene.title or self.scene.path)
        return f"Run({title!r}, {len(self.time)} samples at {self.rate:g} Hz)"

    def __post_init__(self):
        for name in UNITS:
            if isinstance(trace := getattr(self, name), np.ndarray):
                trace.flags.writeable = False

    def traces(self) -> dict:
        """The arrays under their names in `traces.npz`."""
        found = {unit: getattr(self, name) for name, unit in UNITS.items()}
        return {unit: trace for unit, trace in found.items() if trace is not None}


def run_of(performance: Performance | SourceRun) -> Run:
    """The traces; those of a source have no mouth and no lips, and the flow is the source's."""
    if isinstance(performance, SourceRun):
        return _of_source(performance)
    played, rate = performance.played, performance.built.rate
    time = TimeAxis(len(performance.mouth), rate)
    return Run(
        rate=rate,
        time=time[:] if isinstance(performance.mouth, np.ndarray) else time,
        mouth_pressure=performance.in_mouth,
        mouthpiece_pressure=played.mouthpiece_pressure,
        lip_opening=played.lip_opening,
        flow=played.flow,
        **_at_ears(performance),
        tension=performance.tension,
        scene=performance.built.scene,
        performance=performance,
    )


def _at_ears(performance: Performance | SourceRun) -> dict:
    return dict(zip(EARS, performance.at_ears, strict=False))


def _of_source(found: SourceRun) -> Run:
    driven, nothing = found.driven, np.zeros(len(found.driven.flow))
    return Run(
        rate=found.built.rate,
        time=np.arange(len(nothing)) / found.built.rate,
        mouth_pressure=nothing,
        mouthpiece_pressure=driven.lip_pressure,
        lip_opening=nothing,
        flow=driven.flow,
        **_at_ears(found),
        tension=nothing,
        scene=found.built.scene,
        performance=found,
    )


def simulate(scene: Scene) -> Run:
    """Play a scene: its traces in SI, and what `notes` and the studies look into.

    scene: a Scene, from `read_scene` or `Scene.from_dict`.  Returns a `Run`, arrays of shape
    (n,).  Raises TypeError, SceneError and SimulationError.

    >>> run = simulate(scene)  # doctest: +SKIP
    >>> run.mouthpiece_pressure.max(), notes(run)[0].written  # doctest: +SKIP
    """
    if not isinstance(scene, Scene):
        told = "simulate: scene = {!r}: expected a Scene; read_scene(path) gives one"
        raise TypeError(told.format(scene if isinstance(scene, str) else type(scene).__name__))
    return run_of(play_source(build(scene)) if scene.source else perform(scene))
