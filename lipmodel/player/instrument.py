"""An instrument as it is played, from a built-in name, a bore file or a scene file."""

import os
from dataclasses import dataclass, replace
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
from lipmodel.units import note_name

CELSIUS = 22.0


@dataclass(frozen=True)
class Instrument:
    """An instrument as it is played: bore file, air, A4 in Hz, tuning slide pulled, mm; its name
    in titles, the temperature in degrees C, how notes are spelt, and the scene if it was one."""

    spec: BoreFile
    air: Air | AirColumn
    a4: float = 440.0
    tuning_slide_pull_mm: float = 0.0
    name: str = ""
    celsius: float = CELSIUS
    spelling: str = "flats"
    scene: Scene | None = None

    def at(self, celsius: float) -> "Instrument":
        """The same in air of another temperature, degrees C."""
        if celsius == self.celsius:
            return self
        air = room_air(self.scene, celsius) if self.scene else Air.at(celsius)
        return replace(self, air=air, celsius=celsius)

    def names(self, semitone: int) -> dict:
        """Both names of a sounding semitone number."""
        written = semitone - (self.spec.transposition_semitones or 0)
        return {
            "sounding": note_name(semitone, self.spelling),
            "written": note_name(written, self.spelling),
        }

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


def load_instrument(what, celsius: float | None = None) -> Instrument:
    """`what`: a built-in name, the path of a bore or scene file, a `Scene` or an `Instrument`; in
    air of `celsius` degrees (default: its own, or 22).

    SceneError, with every problem at once, where there is none.

    >>> load_instrument("trumpet", celsius=10.0).celsius
    10.0
    """
    if celsius is not None and not 0 <= celsius <= 40:
        raise SceneError(f"--celsius {celsius:g}: expected a number from 0 to 40 degrees C")
    instrument = what if isinstance(what, Instrument) else _loaded(what)
    return instrument if celsius is None else instrument.at(celsius)


def _loaded(what) -> Instrument:
    if isinstance(what, Scene):
        return _of_scene(what)
    if what in instruments.names():
        spec = instruments.spec(what)
    elif Path(what).suffix == ".toml" or os.path.exists(what):
        if "section" not in toml.load(what):
            return _of_scene(read_scene(what))
        spec = bore_file.read_bore_file(what)
    else:
        told = instruments.unknown(what, instruments.names())
        raise SceneError(f"{what}: {told}, a bore file or a scene file")
    return Instrument(spec, Air.at(CELSIUS), name=spec.title or Path(what).stem)


def _of_scene(scene: Scene) -> Instrument:
    return Instrument(
        scene.spec(),
        room_air(scene),
        scene.notes.a4_hz,
        scene.instrument.tuning_slide_pull_mm,
        scene.title or Path(scene.path).stem,
        scene.air.temperature_c,
        scene.notes.spelling,
        scene,
    )


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
    return brassiness(bore, air.at_open_end.sound_speed / (2 * base))
