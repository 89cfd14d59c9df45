"""Scene to physics: the one place where checked numbers and the model meet; SI from here on."""

from contextlib import contextmanager
from dataclasses import dataclass, replace

import numpy as np

from lipmodel.air import Air, AirColumn
from lipmodel.bore import assembly
from lipmodel.bore.bore_file import BoreFile
from lipmodel.bore.geometry import Bore
from lipmodel.bore.valves import valve_set
from lipmodel.errors import SceneError
from lipmodel.lips import PLAYERS, Lips
from lipmodel.mouth import PEAK, QUALITY, Mouth, vowel
from lipmodel.player.breakpoints import Breakpoints
from lipmodel.player.cached import (
    BoreKey,
    kept_direct,
    kept_passage,
    kept_radiation_filter,
    kept_reflections,
    shared_ladder,
)
from lipmodel.scene import room as rooms
from lipmodel.scene.scene import Scene
from lipmodel.sound.listener import place_of
from lipmodel.sound.passage import Passage
from lipmodel.sound.room import Place, Room, placed
from lipmodel.units import KPA, ML, MM, PERCENT, parse_note
from lipmodel.waveguide.state import Horn


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
        return self.air.at_open_end

    @property
    def transposition(self) -> int:
        """Semitones from written to sounding."""
        return self.spec.transposition_semitones or 0

    @property
    def radiation_filter(self) -> np.ndarray:
        """From the open end to the ears that the scene names."""
        given = self.scene.sound
        distance, angle = given.distance_m, np.radians(given.angle_deg)
        if self.room and self.spec.bell_up:  # nobody sits in the axis
            return kept_direct(self.bore, self.outside, self.rate, self.placed(0))
        place = (distance, angle, given.place, given.floor)
        place += (self.bell_height,) if given.floor else ()
        return kept_radiation_filter(self.bore, self.outside, self.rate, *place)

    @property
    def room(self) -> Room | None:
        """The room around, None for free field."""
        given = rooms.room_of(self.scene.sound.room)
        if given is None:
            return None
        middle = tuple(share * m for share, m in zip(rooms.MIDDLE, given.size_m[:2], strict=True))
        return Room(given.size_m, given.reverberation_s, middle)

    @property
    def bell_height(self) -> float:
        """m over the floor."""
        usual = rooms.BELL_UP_M if self.room and self.spec.bell_up else rooms.BELL_M
        return self.scene.sound.bell_height_m or usual

    @property
    def ears(self) -> tuple[int, ...]:
        """Their sides: one ear in the middle, or a left and a right one."""
        return (-1, 1) if self.scene.sound.stereo else (0,)

    def placed(self, side: int) -> Place:
        """Horn and ear in the room, or in free field."""
        given, room = self.scene.sound, self.room
        distance, angle = place_of(given.distance_m, np.radians(given.angle_deg), given.place)
        middle = room.middle if room else (0.0, 0.0)
        up = self.spec.bell_up and room is not None
        return placed(distance, angle, self.bell_height, up, side, middle)

    def ear_filters(self, side: int) -> tuple[np.ndarray, np.ndarray | None]:
        """From the open end to an ear: the direct sound (with the floor of free field), and what
        the room adds, None without one."""
        place, room, given = self.placed(side), self.room, self.scene.sound
        if side == 0:
            first = self.radiation_filter
        elif given.floor:
            how = (*place.way(), "listener", True, self.bell_height)
            first = kept_radiation_filter(self.bore, self.outside, self.rate, *how)
        else:
            first = kept_direct(self.bore, self.outside, self.rate, place)
        if room is None:
            return first, None
        how = (room, place, given.seed, side)
        return first, kept_reflections(self.bore, self.outside, self.rate, *how)

    @property
    def passage(self) -> Passage:
        """The way of a wave that grows steep."""
        return kept_passage(self.horn.ladder, self.bore, self.air)

    def sounding(self, name: str) -> int:
        """Sounding semitone number of a note as the scene writes it."""
        return parse_note(name) + shift(self.scene)


def shift(scene: Scene) -> int:
    """Semitones from a note as the scene writes it to what sounds."""
    written = scene.notes.read_as == "written"
    return (scene.spec().transposition_semitones or 0) if written else 0


def room_air(scene: Scene, celsius: float | None = None) -> Air | AirColumn:
    """The scene's air, or the same at another temperature in degrees C."""
    given = scene.air
    room = Air.at(
        given.temperature_c if celsius is None else celsius,
        given.humidity_percent * PERCENT,
        co2=given.co2_percent * PERCENT,
    )
    rough = scene.instrument.wall_roughness
    if not given.breath:
        return _at_rough_walls(room, rough)
    column = AirColumn.breath(room)
    return AirColumn(*(_at_rough_walls(air, rough) for air in (column.lips, column.room)))


def _at_rough_walls(air: Air, rough: float) -> Air:
    """Air that loses `rough` times as much at a wall: losses go as the root of viscosity and of
    heat conduction, whose ratio stays."""
    return air if rough == 1 else replace(air, viscosity=air.viscosity * rough**2)


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
        "firm": plays_notes(scene) if given.firmness is None else given.firmness,
    }
    return replace(lips, **{k: v for k, v in changes.items() if v is not None})


def player_mouth(scene: Scene, air: Air) -> Mouth | None:
    """The air upstream of the lips, with the tongue where the scene has it first; None without
    [mouth]."""
    given = scene.mouth
    if given is None:
        return None
    damped = {"quality": given.quality or QUALITY, "glottis": None}
    if given.glottis_pa_s_m3 is not None:
        damped = {"quality": None, "glottis": given.glottis_pa_s_m3}
    if given.vowel is not None:
        resonance, compliance = vowel(given.vowel, air.density, air.sound_speed)
        return Mouth(resonance, None, compliance, **damped)
    resonance = Breakpoints.of(given.resonance_hz).first
    if given.volume_ml is not None:
        compliance = given.volume_ml * ML / (air.density * air.sound_speed**2)
        return Mouth(resonance, None, compliance, **damped)
    return Mouth(resonance, given.peak_pa_s_m3 or PEAK, None, **damped)


def tongue(scene: Scene) -> Breakpoints | None:
    """Where the mouth resonates, Hz, when the tongue moves; None when it does not."""
    given = scene.mouth and scene.mouth.resonance_hz
    return Breakpoints.of(given) if isinstance(given, tuple) else None


def horn_at(built: Built, time: float) -> Horn:
    """The horn with the tongue where the scene has it at `time` s."""
    led = tongue(built.scene)
    if led is None:
        return built.horn
    mouth = replace(built.horn.mouth, resonance=float(led.at(time)))
    return replace(built.horn, mouth=mouth)


def plays_notes(scene: Scene) -> bool:
    """Whether a player plays notes: lips that are only set to a tension stay as they are."""
    return scene.player is not None and scene.player.tension_hz is None


@contextmanager
def naming(scene: Scene):
    """A SceneError of what knows no file gets the scene's."""
    try:
        yield
    except SceneError as error:
        raise SceneError(f"{scene.path}: {error}") from error


def scene_bore(scene: Scene, spec: BoreFile, slide_position=None, valves=None) -> Bore:
    """The bore with its slides pulled, and the valves of the scene where they stay down.

    The slide is where the scene has it first, or at `slide_position`; `valves` stay down
    whatever is played; valves that move lengthen lines of the open tube.  SceneError where it
    cannot be held so.
    """
    given = scene.instrument
    if valves is None:
        in_phrase = scene.player is not None and scene.player.tension_hz is None
        valves = "0" if in_phrase or given.valve_moves else given.valves
    position = first_slide_position(scene) if slide_position is None else slide_position
    with naming(scene):
        return assembly.to_bore(
            spec,
            valves=valve_set(spec, valves),
            tuning_slide_pull_mm=given.tuning_slide_pull_mm,
            first_slide_pull_mm=given.first_slide_pull_mm,
            third_slide_pull_mm=given.third_slide_pull_mm,
            slide_position=position,
        )


def first_slide_position(scene: Scene) -> float:
    """Where the scene has the slide first."""
    return Breakpoints.of(scene.instrument.slide_position).first


def held_valves(scene: Scene) -> str:
    """The valves of [instrument]; none where a player chooses them note by note."""
    return "0" if scene.instrument.valves == "auto" else scene.instrument.valves


def valves_at(scene: Scene, time: float) -> str:
    """The valves that a scene with a lip setting has down at `time` s."""
    down = [valves for at, valves in scene.instrument.valve_moves if at <= time]
    return down[-1] if down else scene.instrument.valves


def slide_moves(scene: Scene) -> bool:
    """Whether the slide may move while the scene is played: its ladder is then made at
    position 1, and the tube that the slide adds lengthens a line."""
    if scene.player is None:
        return False
    return scene.player.tension_hz is None or slide_is_led(scene)


def slide_is_led(scene: Scene) -> bool:
    """Whether [instrument] gives the slide breakpoints, be it one."""
    return isinstance(scene.instrument.slide_position, tuple)


def build(scene: Scene, *, held: bool = False, rate: float | None = None) -> Built:
    """Air, bore, ladder and lips of a scene, in samples a second of the scene or at `rate`.

    held: valves and slide stay where [instrument] has them first, whatever is played.
    SceneError where they cannot be made.
    """
    spec, air = scene.spec(), room_air(scene)
    if held:
        bore = scene_bore(scene, spec, valves=held_valves(scene))
    else:
        bore = scene_bore(scene, spec, 1.0 if slide_moves(scene) else None)
    with naming(scene):
        ladder = shared_ladder(BoreKey(bore, air), float(rate or scene.sound.rate_hz))
    lips = player_lips(scene, spec)
    mouth = player_mouth(scene, air.at_lips)
    horn = Horn(ladder, lips, air.at_lips.density, scene.instrument.throat_loss, mouth)
    return Built(scene, spec, air, bore, horn)


def note_pressure(built: Built, note, frequency: float) -> Breakpoints:
    """Mouth pressure of a note in Pa, from the note's start."""
    if note.pressure_kpa is None:
        dynamic, lips = note.dynamic or built.scene.player.dynamic, built.horn.lips
        if isinstance(dynamic, str):
            return Breakpoints.of(lips.breath(dynamic, frequency))
        return Breakpoints.of([(time, lips.breath(word, frequency)) for time, word in dynamic])
    return Breakpoints.of(note.pressure_kpa).scaled(KPA)
