"""WHAT on the command line: a built-in name, a bore file or a scene file."""

import os
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from lipmodel.acoustics.brassiness import brassiness
from lipmodel.air import Air, AirColumn
from lipmodel.bore import bore_file, instruments
from lipmodel.bore.assembly import to_bore
from lipmodel.bore.bore_file import BoreFile
from lipmodel.bore.valves import has_mark, valve_numbers
from lipmodel.errors import SceneError
from lipmodel.files import toml
from lipmodel.lips import PLAYERS
from lipmodel.player.build import room_air
from lipmodel.player.cached import kept_resonances
from lipmodel.player.fingering import Way
from lipmodel.scene.scene import Scene, read_scene

CELSIUS = 22.0


@dataclass(frozen=True)
class Setup:
    """An instrument as it is played: bore file, air, A4 in Hz, tuning slide pulled, mm."""

    spec: BoreFile
    air: Air | AirColumn
    a4: float = 440.0
    tuning_slide_pull_mm: float = 0.0

    @property
    def rest(self) -> float:
        """Cents above its resonance at which the player's notes rest."""
        return resting_cents(self.spec)

    @property
    def natural(self) -> bool:
        """A bare bore: no valves, no slide, and nobody says what its first partial is."""
        spec = self.spec
        told = spec.kind == "instrument" or spec.fundamental is not None
        return not (told or valve_numbers(spec) or has_mark(spec, "slide"))

    def bore(self, way: Way, first=0.0, third=0.0):
        """The bore held for `way`, valve slides pulled by `first` and `third` mm."""
        return to_bore(
            self.spec,
            valves=way.valves,
            tuning_slide_pull_mm=self.tuning_slide_pull_mm,
            first_slide_pull_mm=first,
            third_slide_pull_mm=third,
            slide_position=way.slide_position,
        )


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


def load_instrument(given: str, celsius: float | None = None) -> What:
    """What `given` names, in air of `celsius` degrees (default: the scene's, or 22)."""
    if celsius is not None and not 0 <= celsius <= 40:
        raise SceneError(f"--celsius {celsius:g}: expected a number from 0 to 40 degrees C")
    if given in instruments.names():
        spec, scene = instruments.spec(given), None
    elif Path(given).suffix == ".toml" or os.path.exists(given):
        scene = None if "section" in toml.load(given) else read_scene(given)
        spec = scene.spec() if scene else bore_file.read_bore_file(given)
    else:
        told = instruments.unknown(given, instruments.names())
        raise SceneError(f"{given}: {told}, a bore file or a scene file")
    if scene is None:
        warm = CELSIUS if celsius is None else celsius
        return What(spec.title or Path(given).stem, spec, Air.at(warm), warm, None)
    warm = scene.air.temperature_c if celsius is None else celsius
    return What(scene.title or Path(given).stem, spec, room_air(scene, warm), warm, scene)


def resting_cents(spec: BoreFile) -> float:
    """Cents above its resonance at which a held note of the calibrated player rests."""
    told = spec.resting_cents
    return PLAYERS[spec.player].resting_cents if told is None else told


def series_fundamental(found) -> float | None:
    """Fundamental in Hz of the harmonic series that fits resonances 2 to 8 best (cents)."""
    used = [r for r in found if 2 <= r.n <= 8]
    if not used:
        return None
    return float(np.exp(np.mean([np.log(r.frequency / r.n) for r in used])))


def brassiness_of(spec: BoreFile, bore, air) -> float | None:
    """`acoustics.brassiness` of a bore held as its file says: an instrument's over c/(2 f) of
    the pitch it is built in, a bare bore's over its own length."""
    if spec.kind != "instrument":
        return brassiness(bore)
    base = series_fundamental(kept_resonances(bore, air)) or 1.0
    speed = float(np.ravel(air.along(np.array([1.0])).sound_speed)[0])
    return brassiness(bore, speed / (2 * base))
