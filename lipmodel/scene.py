"""Scene files: what they may say, read and checked; every problem at once.

Values stay in the units of the file: `build.py` makes physics of them.
"""

from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

from pydantic import Field, PrivateAttr, ValidationError

from lipmodel import reading
from lipmodel.errors import SceneError
from lipmodel.instrument_table import Instrument, as_table, misfits, resolve
from lipmodel.paths import Place, place_of
from lipmodel.phrase import SHORTEST_NOTE, Note, Player
from lipmodel.reading import Expected, Found, Table, choice, number, text, whole, yes_no
from lipmodel.sections import BoreFile
from lipmodel.source_table import Source, misplaced
from lipmodel.variants import AS_WRITTEN, changed, merge, slug, variant_changes

PROJECT_FILES = ("lesson.toml", "pyproject.toml")
LONGEST_S = 3600.0  # s
BYTES_A_SAMPLE = 200  # all arrays of a run with a source, roughly
SOURCE_MEMORY = 2e9  # bytes
RATE_HZ = 48_000
LENGTH_S = 4.0
AFTER_THE_LAST_NOTE = 0.5  # s
PLAYED = "a table with tension_hz, tune or phrase, or a [source] in its place"


class Air(Table):
    """The air in the room and in the tube."""

    temperature_c: number(0, 40, "degrees C") = 22.0
    humidity_percent: number(0, 100, "%") = 50.0
    co2_percent: number(0, 5, "%") = 0.04
    breath: yes_no() = Field(False, description="warm breath at the lips, room air at the end")


class Notes(Table):
    """How note names are read and written."""

    read_as: choice("written", "sounding") = "written"
    a4_hz: number(380, 480, "Hz") = 440.0
    spelling: choice("flats", "sharps") = "flats"


def _pair(low: float, high: float, unit: str, names: str, rising: bool):
    words = f"{names}, two numbers from {low:g} to {high:g} {unit}" + ", rising" * rising

    def check(value):
        if not isinstance(value, list) or len(value) != 2:
            raise ValueError
        if not all(reading.is_number(v) and low <= v <= high for v in value):
            raise ValueError
        if rising and not value[0] < value[1]:
            raise ValueError
        return float(value[0]), float(value[1])

    return reading.parsed(tuple[float, float], check, words)


class Lips(Table):
    """The lips; what is not given is the calibrated player's."""

    motion: choice("both", "swing", "lift") = "both"
    width_mm: number(1, 30, "mm") | None = None
    thickness_mm: number(0.2, 10, "mm") | None = None
    rest_mm: _pair(-5, 5, "mm", "[x, y]", rising=False) | None = None
    quality: number(0.3, 20) | None = None
    stiffness_per_hz: number(0.05, 20, "N/(m Hz)") | None = None


def refuse_longer(scene, seconds: float, who: str):
    """SceneError for a scene whose sound is longer than what `who` can hold in memory."""
    if scene.sound.length_s > seconds:
        raise SceneError(
            f"{scene.path}: sound.length_s = {scene.sound.length_s:g}: {who} holds its sounds in "
            f"memory; expected {int(seconds)} s or less"
        )


class Sound(Table):
    """How it is heard and stored."""

    rate_hz: whole(22_050, 192_000, "Hz") = RATE_HZ
    length_s: number(0.05, LONGEST_S, "s") | None = Field(
        None, description="default: until half a second after the last note, else 4 s"
    )
    distance_m: number(0.05, 100, "m") = 1.0
    angle_deg: number(0, 180, "degrees") = 0.0
    place: choice("listener", "player") = Field("listener", description="whose ears hear it")
    floor: yes_no() = Field(False, description="a hard floor below, which reflects")
    steepening: yes_no() = Field(True, description="loud waves grow steep in the tube")
    level: choice("matched", "calibrated") = "matched"
    loudness_lufs: number(-60, -5, "LUFS") = -16.0
    also: reading.listed(choice("mp3", "flac", "ogg"), 3, "kinds") = ()
    seed: whole(0, 2**31 - 1) = 1


class Map(Table):
    """The grid of `lipmodel map`; without a range, the playable one."""

    tension_hz: _pair(20, 2000, "Hz", "[from, to]", rising=True) | None = None
    pressure_kpa: _pair(0, 40, "kPa", "[from, to]", rising=True) | None = None
    columns: whole(2, 1000) = 60
    rows: whole(2, 1000) = 40
    note_s: number(0.1, 10, "s") = 0.4


PLAYED_ONLY = ("field", "energy", "dynamics")  # of [show]


class Show(Table):
    """More pictures of a take, each with its figures in report.json."""

    mirror: yes_no() = Field(False, description="what the bell sends back, against frequency")
    field: yes_no() = Field(False, description="pressure and motion along the tube")
    echo: yes_no() = Field(False, description="the reflection function: one click and its echoes")
    energy: yes_no() = Field(False, description="where the blown energy goes")
    dynamics: yes_no() = Field(False, description="level and spectrum against the breath")


@dataclass(frozen=True)
class Variant:
    """A scene with some keys replaced; `changed` says which, in sentences."""

    name: str
    scene: "Scene"
    changed: tuple[str, ...]

    @property
    def folder(self) -> str:
        """The variant's name as a folder name."""
        return slug(self.name)


class Scene(Table):
    """A whole scene file, with every default filled in."""

    title: text() = ""
    listen_for: text() = ""
    ask: text() = ""
    answer: text() = ""
    air: Air = Air()
    notes: Notes = Notes()
    instrument: Annotated[Instrument, Expected("a table with name or bore")]
    player: Player | None = None
    source: Source | None = Field(None, description="a sound put into the tube, without a player")
    lips: Lips = Lips()
    sound: Sound = Sound()
    map: Map = Map()
    show: Show = Show()
    _place: Place = PrivateAttr(Place("scene", Path(), Path()))
    _others: tuple[Variant, ...] = PrivateAttr(())

    @classmethod
    def keys(cls):
        return [*cls.model_fields, "variant"]

    @classmethod
    def rules(cls, data, place):
        instrument, player = (as_table(data.get(key)) for key in ("instrument", "player"))
        spec, _ = resolve(instrument, place)
        found = [] if spec is None else list(misfits(instrument, player, spec))
        if "player" in data and "source" in data:
            told = "expected either [player] or [source], not both"
            found.append(Found(("source",), None, told, "plain"))
        elif "source" in data:
            found += [] if spec is None else misplaced(as_table(data["source"]), instrument, spec)
            shown = as_table(data.get("show"))
            told = "expected false: with a [source] nobody plays a note"
            found += [Found(("show", k), True, told) for k in PLAYED_ONLY if shown.get(k)]
        elif "player" not in data:
            found.append(Found(("player",), None, f"missing; expected {PLAYED}", "plain"))
        return found

    @classmethod
    def finish(cls, value):
        """Fill in the length; refuse notes that would not be heard."""
        sound = value.sound
        notes = value.player.notes if value.player else ()
        key = "tune" if value.player and value.player.tune else "phrase"
        if sound.length_s is None:
            length = notes[-1].end_s + AFTER_THE_LAST_NOTE if notes else LENGTH_S
            if length > LONGEST_S:
                told = f"the notes last {length:g} s; expected {LONGEST_S:g} s or less"
                reading.refuse(Found(("player", key), None, told, "plain"))
            sound = sound.model_copy(update={"length_s": length})
        begins = [(note.start_s, "the last note starts") for note in notes[-1:]]
        if value.source and value.source.kind == "pop":
            begins.append((value.source.start_s, "the pop begins"))
        for start, what in begins:
            least = round(start + SHORTEST_NOTE, 9)
            if sound.length_s < least:
                told = f"expected {least:.10g} s or more: {what} at {start:.10g} s"
                reading.refuse(Found(("sound", "length_s"), sound.length_s, told))
        most = int(SOURCE_MEMORY / (BYTES_A_SAMPLE * sound.rate_hz))
        if value.source and sound.length_s > most:
            told = f"expected a number from 0.05 to {most} s: a [source] is held in memory"
            reading.refuse(Found(("sound", "length_s"), sound.length_s, told))
        return value.model_copy(update={"sound": sound})

    @property
    def path(self) -> str:
        """The file's path as it was given."""
        return self._place.path

    @property
    def variants(self) -> tuple[Variant, ...]:
        """The scene as written, then each [[variant]]."""
        return (Variant(AS_WRITTEN, self, ()), *self._others)

    def needs_player(self, what: str):
        """SceneError, one line, where `what` cannot be done for a scene without a player."""
        if self.player is None:
            told = f"has a [source]: {what} needs the lips of a [player]"
            raise SceneError(f"{self.path}: {told}")

    def inputs(self) -> dict:
        """Everything that was read, ready for JSON, every default filled in."""
        return self.model_dump(mode="json")

    def spec(self) -> BoreFile:
        """The bore file of the instrument, parts changed as the scene says."""
        given = self.instrument.model_dump(exclude_none=True)
        spec, found = resolve(given, self._place)
        if found:
            start = {"whole": ""}
            raise SceneError([start.get(f.kind, f"{self.path}: ") + f.text for f in found])
        return spec

    def phrase(self) -> tuple[Note, ...]:
        """The notes of tune or phrase with all that [instrument] and [player] say for them, the
        last no longer than the sound.

        A note has a pressure, a dynamic, or neither where the player's pressure is breakpoints.
        """
        player, instrument = self.player, self.instrument
        common = {
            "valves": "auto" if instrument.valves == "0" else instrument.valves,
            "first_slide_pull_mm": instrument.first_slide_pull_mm,
            "third_slide_pull_mm": instrument.third_slide_pull_mm,
            "attack": player.attack,
            "release_ms": player.release_ms,
            "vibrato": player.vibrato,
        }
        if player.pressure_kpa is None:
            breath = {"dynamic": player.dynamic}
        else:
            one = isinstance(player.pressure_kpa, float)
            breath = {"pressure_kpa": player.pressure_kpa} if one else {}
        until = self.sound.length_s
        return tuple(_filled(note, common, breath, until) for note in player.notes)


def _filled(note: Note, common: dict, breath: dict, until: float) -> Note:
    missing = {k: v for k, v in common.items() if getattr(note, k) in (None, "auto")}
    if note.end_s > until:
        missing["length_s"] = until - note.start_s
    if note.pressure_kpa is None and note.dynamic is None:
        missing |= breath
    return note.model_copy(update=missing)


def project_folder(folder: Path) -> Path:
    """The nearest parent of a scene's folder that holds a project file, else the folder."""
    folder = folder.resolve()
    for parent in (folder, *folder.parents):
        if any((parent / name).is_file() for name in PROJECT_FILES):
            return parent
    return folder


def read_scene(path) -> Scene:
    """The scene file at `path` with its variants; every problem at once in one SceneError."""
    data = reading.load(path)
    if "section" in data and "instrument" not in data:
        raise SceneError(
            f"{path}: this is a bore file; name it in a scene: "
            f'[instrument] bore = "{Path(path).name}"'
        )
    place = place_of(path, project_folder(Path(path).parent))
    changes, bad_variants = variant_changes(data.pop("variant", []))
    scene, told = _checked(data, place, "")
    known = {problem.removeprefix(f"{path}: ") for problem in told}
    told += [f"{path}: {problem}" for problem in bad_variants]
    others = []
    for name, change in changes:
        label = f"variant {reading.shown(name)}: "
        other, more = _checked(merge(data, change), place, label)
        # what is wrong in the scene itself is told once
        told += [p for p in more if p.removeprefix(f"{path}: {label}") not in known]
        if scene and other:
            sentences = changed(scene.inputs(), other.inputs(), change)
            others.append(Variant(name, other, sentences))
    if told:
        raise SceneError(reading.capped(told, path))
    scene._others = tuple(others)
    return scene


def _checked(data: dict, place: Place, label: str) -> tuple[Scene | None, list[str]]:
    try:
        scene = Scene.model_validate(data, context=place)
    except ValidationError as error:
        return None, reading.problems(error, place.path, data, label)
    scene._place = place
    return scene, []
