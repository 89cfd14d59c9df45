"""WHAT on the command line: a built-in name, a bore file or a scene file."""

import os
from dataclasses import dataclass
from pathlib import Path

from lipmodel import borefile, instruments, reading
from lipmodel.air import Air, AirColumn
from lipmodel.build import room_air
from lipmodel.errors import SceneError
from lipmodel.scene import Scene, read_scene
from lipmodel.sections import BoreFile
from lipmodel.tuning import Setup

CELSIUS = 22.0


@dataclass(frozen=True)
class What:
    """name for titles, the bore file, the air, and the scene if it was one."""

    name: str
    spec: BoreFile
    air: Air | AirColumn
    celsius: float
    scene: Scene | None

    @property
    def a4(self) -> float:
        return self.scene.notes.a4_hz if self.scene else 440.0

    @property
    def spelling(self) -> str:
        return self.scene.notes.spelling if self.scene else "flats"

    @property
    def setup(self) -> Setup:
        """What it takes to tell how its notes are tuned."""
        pull = self.scene.instrument.tuning_slide_pull_mm if self.scene else 0.0
        return Setup(self.spec, self.air, self.a4, pull)


def find(given: str, celsius: float | None = None) -> What:
    """What `given` names, in air of `celsius` degrees (default: the scene's, or 22)."""
    if celsius is not None and not 0 <= celsius <= 40:
        raise SceneError(f"--celsius {celsius:g}: expected a number from 0 to 40 degrees C")
    if given in instruments.names():
        spec, scene = instruments.spec(given), None
    elif Path(given).suffix == ".toml" or os.path.exists(given):
        scene = None if "section" in reading.load(given) else read_scene(given)
        spec = scene.spec() if scene else borefile.read_bore_file(given)
    else:
        told = instruments.unknown(given, instruments.names())
        raise SceneError(f"{given}: {told}, a bore file or a scene file")
    if scene is None:
        warm = CELSIUS if celsius is None else celsius
        return What(spec.title or Path(given).stem, spec, Air.at(warm), warm, None)
    warm = scene.air.temperature_c if celsius is None else celsius
    table = scene.air.model_copy(update={"temperature_c": warm})
    air = room_air(scene.model_copy(update={"air": table}))
    return What(scene.title or Path(given).stem, spec, air, warm, scene)
