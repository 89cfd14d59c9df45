"""Scene to physics: the one place where checked numbers and the model meet; SI from here on."""

from contextlib import contextmanager
from dataclasses import dataclass, fields, replace
from functools import lru_cache

import numpy as np

from lipmodel import borefile
from lipmodel.acoustics.resonances import Resonance, resonances
from lipmodel.air import Air, AirColumn
from lipmodel.bore import Bore
from lipmodel.errors import SceneError
from lipmodel.fit import build_ladder
from lipmodel.keep import kept, key_of
from lipmodel.lips import PLAYERS, Lips
from lipmodel.listener import filter_at
from lipmodel.scene import Scene
from lipmodel.sections import BoreFile
from lipmodel.steepening import Passage, passage
from lipmodel.timeloop import Horn
from lipmodel.units import KPA, MM, PERCENT, parse_note
from lipmodel.waveguide import Ladder, ladder_arrays, ladder_from_arrays

# Mouth pressure of a marking over the pressure at which the note begins.  Ours, inside the
# published ranges from softest to loudest (Bouhuys 1965 and others, from memory).
DYNAMICS = {"pp": 1.2, "p": 1.4, "mp": 1.7, "mf": 2.0, "f": 2.6, "ff": 3.3}


@dataclass(frozen=True)
class Built:
    """A scene as physics."""

    scene: Scene
    spec: BoreFile
    air: Air | AirColumn
    bore: Bore
    horn: Horn

    @property
    def rate(self) -> float:
        return self.horn.rate

    @property
    def outside(self) -> Air:
        """The air of the room."""
        return self.air.room if isinstance(self.air, AirColumn) else self.air

    @property
    def transposition(self) -> int:
        """Semitones from written to sounding."""
        return self.spec.transposition_semitones or 0

    @property
    def radiation_filter(self) -> np.ndarray:
        """From the open end to the ears that the scene names."""
        given = self.scene.sound
        place = (given.distance_m, np.radians(given.angle_deg), given.place, given.floor)
        return kept_radiation_filter(self.bore, self.outside, self.rate, *place)

    @property
    def passage(self) -> Passage:
        """The way of a wave that grows steep."""
        return kept_passage(self.horn.ladder, self.bore, self.air)

    def sounding(self, name: str) -> int:
        """Sounding semitone number of a note as the scene writes it."""
        written = self.scene.notes.read_as == "written"
        return parse_note(name) + (self.transposition if written else 0)


def room_air(scene: Scene) -> Air | AirColumn:
    given = scene.air
    room = Air.at(
        given.temperature_c,
        given.humidity_percent * PERCENT,
        co2=given.co2_percent * PERCENT,
    )
    return AirColumn.breath(room) if given.breath else room


def player_lips(scene: Scene, spec: BoreFile) -> Lips:
    """The instrument's calibrated player with what the scene overrides."""
    given = scene.lips
    lips = replace(PLAYERS[spec.player], motion=given.motion)
    changes = {
        "width": None if given.width_mm is None else given.width_mm * MM,
        "thickness": None if given.thickness_mm is None else given.thickness_mm * MM,
        "rest": None if given.rest_mm is None else tuple(v * MM for v in given.rest_mm),
        "lift_rest": None if given.rest_mm is None else given.rest_mm[1] * MM,
        "swing_quality" if given.motion == "swing" else "quality": given.quality,
        "stiffness_per_hz": given.stiffness_per_hz,
    }
    return replace(lips, **{k: v for k, v in changes.items() if v is not None})


@contextmanager
def naming(scene: Scene):
    """A SceneError of what knows no file gets the scene's."""
    try:
        yield
    except SceneError as error:
        raise SceneError(f"{scene.path}: {error}") from error


def scene_bore(scene: Scene, spec: BoreFile, slide_position=None) -> Bore:
    """The bore with its slides pulled, and the valves of the scene where they stay down.

    The slide is where the scene has it first, or at `slide_position`.  SceneError where it
    cannot be held so.
    """
    given = scene.instrument
    in_phrase = scene.player is not None and scene.player.tension_hz is None
    valves = frozenset() if in_phrase else borefile.valve_set(spec, given.valves)
    position = given.slide_position if slide_position is None else slide_position
    with naming(scene):
        return borefile.to_bore(
            spec,
            valves=valves,
            tuning_slide_pull_mm=given.tuning_slide_pull_mm,
            first_slide_pull_mm=given.first_slide_pull_mm,
            third_slide_pull_mm=given.third_slide_pull_mm,
            slide_position=position if np.isscalar(position) else position[0][1],
        )


def slide_moves(scene: Scene) -> bool:
    """Whether the slide may move while the scene is played: its ladder is then made at
    position 1, and the tube that the slide adds lengthens a line."""
    given = scene.instrument.slide_position
    if scene.player is None:
        return False
    return scene.player.tension_hz is None or not np.isscalar(given)


def first_position(built: Built) -> float:
    """The slide position for which the built bore was made."""
    if slide_moves(built.scene):
        return 1.0
    return float(built.scene.instrument.slide_position)


def build(scene: Scene) -> Built:
    """Air, bore, ladder and lips of a scene.  SceneError where they cannot be made."""
    spec = scene.spec()
    air = room_air(scene)
    bore = scene_bore(scene, spec, 1.0 if slide_moves(scene) else None)
    with naming(scene):
        ladder = _ladder(_Key(bore, air), float(scene.sound.rate_hz))
    lips_air = air.lips if isinstance(air, AirColumn) else air
    lips = player_lips(scene, spec)
    horn = Horn(ladder, lips, lips_air.density, scene.instrument.throat_loss)
    return Built(scene, spec, air, bore, horn)


class _Key:
    """Bore and air as something to look up by: variants mostly share their bore."""

    def __init__(self, bore: Bore, air):
        self.bore, self.air = bore, air
        self.key = (bore.x.tobytes(), bore.radius.tobytes(), bore.end, bore.mouthpiece_end, air)

    def __hash__(self):
        return hash(self.key)

    def __eq__(self, other):
        return self.key == other.key


@lru_cache(maxsize=16)
def _ladder(key: _Key, rate: float) -> Ladder:
    return kept_ladder(key.bore, key.air, rate)


def kept_ladder(bore: Bore, air, rate: float) -> Ladder:
    """`build_ladder`, kept between runs."""
    name = key_of("ladder", bore, air, rate)
    return kept(name, lambda: build_ladder(bore, air, rate), ladder_arrays, ladder_from_arrays)


def kept_resonances(bore: Bore, air) -> list[Resonance]:
    """`resonances` of a bore in air, kept between runs."""
    name = key_of("resonances", bore, air)
    return kept(name, lambda: resonances(bore, air), _resonance_rows, _resonances_of)


def _resonance_rows(found) -> dict:
    rows = [(r.frequency, r.magnitude, np.nan if r.quality is None else r.quality) for r in found]
    return {"rows": np.array(rows).reshape(-1, 3)}


def _resonances_of(known: dict) -> list[Resonance]:
    return [
        Resonance(n, float(f), float(m), None if np.isnan(q) else float(q))
        for n, (f, m, q) in enumerate(known["rows"], 1)
    ]


def kept_radiation_filter(bore: Bore, air: Air, rate: float, *place) -> np.ndarray:
    """From the open end to ears at `place`, `listener.filter_at`, kept between runs."""
    name = key_of("radiation", bore, air, rate, *place)
    return kept(
        name,
        lambda: filter_at(bore, air, rate, *place),
        lambda response: {"response": response},
        lambda known: known["response"],
    )


def kept_passage(ladder: Ladder, bore: Bore, air) -> Passage:
    """`steepening.passage` of a bore and its ladder, kept between runs."""
    name = key_of("passage", bore, air, ladder.rate)
    return kept(
        name,
        lambda: passage(ladder, bore, air),
        lambda way: {f.name: np.asarray(getattr(way, f.name)) for f in fields(Passage)},
        lambda known: Passage(**{k: v.item() if v.ndim == 0 else v for k, v in known.items()}),
    )


def lines_for(
    built: Built, valves: str, first_pull_mm=0.0, third_pull_mm=0.0, slide_position=1.0
) -> np.ndarray:
    """Delay in samples of every line of the ladder with `valves` pressed, shape (m,).

    The tube that valves and slide add is cylindrical and lies in the lines that hold their marks.
    """
    ladder = built.horn.ladder
    delays = ladder.delay[ladder.line_cell].copy()
    added = valve_tube(built, valves, first_pull_mm, third_pull_mm)
    if added:
        line, speed = line_at(built, "valve")
        delays[line] += added / speed * ladder.rate
    if slide_position != 1:
        line, speed = line_at(built, "slide")
        tube = slide_tube(built, slide_position, added)
        delays[line] += tube / speed * ladder.rate
    return delays


def valve_tube(built: Built, valves: str, first_pull_mm=0.0, third_pull_mm=0.0) -> float:
    """Tube in metres that pressed valves add, their slides pulled."""
    pressed = borefile.valve_set(built.spec, valves)
    added = borefile.valve_length(built.spec, pressed)
    return added + 2 * MM * (first_pull_mm * (1 in pressed) + third_pull_mm * (3 in pressed))


def slide_tube(built: Built, position: float, valve_tube_m=0.0) -> float:
    """Tube in metres that the slide adds at a position to a ladder made at position 1, with
    `valve_tube_m` of tube behind valves.  SceneError where the slide is too short."""
    if position == 1:
        return 0.0
    with naming(built.scene):
        return borefile.slide_length(built.spec, position, built.bore.length + valve_tube_m)


def line_at(built: Built, mark: str) -> tuple[int, float]:
    """The line that holds the first mark of that name, and the speed of sound there in m/s."""
    ladder = built.horn.ladder
    place = next(x for name, x in built.bore.marks if name.startswith(mark))
    inside = np.flatnonzero((ladder.line_x[:, 0] <= place) & (place <= ladder.line_x[:, 1]))
    line = int(inside[0]) if len(inside) else int(np.argmax(np.diff(ladder.line_x, axis=1)))
    speed = built.air.along(np.array([place / built.bore.length])).sound_speed
    return line, float(np.ravel(speed)[0])


def held_bore(built: Built, valves: str, slide_position: float, pulls=None) -> Bore:
    """The bore with valves down and slides held, as a note has them; `pulls`: mm of the first and
    third valve's slide, the scene's where there are none."""
    given = built.scene.instrument
    first, third = pulls or (given.first_slide_pull_mm, given.third_slide_pull_mm)
    with naming(built.scene):
        return borefile.to_bore(
            built.spec,
            valves=borefile.valve_set(built.spec, valves),
            tuning_slide_pull_mm=given.tuning_slide_pull_mm,
            first_slide_pull_mm=first,
            third_slide_pull_mm=third,
            slide_position=slide_position,
        )


def note_pressure(built: Built, note, frequency: float):
    """Mouth pressure of a note in Pa: a number, or breakpoints from the note's start."""
    if note.pressure_kpa is None:
        dynamic = note.dynamic or built.scene.player.dynamic
        return DYNAMICS[dynamic] * built.horn.lips.threshold_per_hz * frequency
    if np.isscalar(note.pressure_kpa):
        return note.pressure_kpa * KPA
    return [(t, v * KPA) for t, v in note.pressure_kpa]
