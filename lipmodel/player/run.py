"""A scene as played, as a value: the arrays of `traces.npz`."""

from dataclasses import dataclass

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
}


@dataclass(frozen=True)
class Run:
    """Arrays of shape (n,), SI, read-only, or, of a long take, traces that are sliced like them;
    `rate` in Hz."""

    rate: float
    time: np.ndarray
    mouth_pressure: np.ndarray
    mouthpiece_pressure: np.ndarray
    lip_opening: np.ndarray
    flow: np.ndarray
    radiated_pressure: np.ndarray
    tension: np.ndarray

    def __post_init__(self):
        for name in UNITS:
            if isinstance(trace := getattr(self, name), np.ndarray):
                trace.flags.writeable = False

    def traces(self) -> dict:
        """The arrays under their names in `traces.npz`."""
        return {unit: getattr(self, name) for name, unit in UNITS.items()}


def run_of(performance: Performance | SourceRun) -> Run:
    """The traces; those of a source have no mouth and no lips, and the flow is the source's."""
    if isinstance(performance, SourceRun):
        return _of_source(performance)
    played, rate = performance.played, performance.built.rate
    time = TimeAxis(len(performance.mouth), rate)
    return Run(
        rate=rate,
        time=time[:] if isinstance(performance.mouth, np.ndarray) else time,
        mouth_pressure=performance.mouth,
        mouthpiece_pressure=played.mouthpiece_pressure,
        lip_opening=played.lip_opening,
        flow=played.flow,
        radiated_pressure=performance.radiated_pressure,
        tension=performance.tension,
    )


def _of_source(found: SourceRun) -> Run:
    driven, nothing = found.driven, np.zeros(len(found.driven.flow))
    return Run(
        rate=found.built.rate,
        time=np.arange(len(nothing)) / found.built.rate,
        mouth_pressure=nothing,
        mouthpiece_pressure=driven.lip_pressure,
        lip_opening=nothing,
        flow=driven.flow,
        radiated_pressure=found.radiated_pressure,
        tension=nothing,
    )


def simulate(scene: Scene) -> Run:
    """Play a scene from `read_scene`.  Raises SceneError or SimulationError."""
    return run_of(play_source(build(scene)) if scene.source else perform(scene))
