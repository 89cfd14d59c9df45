"""Scene files: what they may say, read and checked; every problem at once.

Values stay in the units of the file: `player/build.py` makes physics of them.
"""

from dataclasses import dataclass, field, replace
from os import PathLike
from pathlib import Path
from typing import Annotated

from pydantic import Field, PrivateAttr, ValidationError

from lipmodel.bore.bore_file import BoreFile
from lipmodel.errors import SceneError
from lipmodel.files import schema, toml
from lipmodel.files.paths import place_of
from lipmodel.files.schema import Expected, Problem, Table, text
from lipmodel.scene.instrument import BoreFiles, Instrument, as_table, misfits, resolve
from lipmodel.scene.mouth import Mouth
from lipmodel.scene.player import SHORTEST_NOTE, Note, Player
from lipmodel.scene.question import answers, one_of_them, unasked
from lipmodel.scene.room import misplaced as misplaced_ears
from lipmodel.scene.room import room_of
from lipmodel.scene.source import Source, misplaced
from lipmodel.scene.tables import LONGEST_S, PLAYED_ONLY, Air, Lips, Map, Notes, Show, Sound
from lipmodel.scene.variants import (
    AS_WRITTEN,
    as_written,
    changed,
    merge,
    replaced,
    slug,
    variant_changes,
)

PROJECT_FILES = ("lesson.toml", "pyproject.toml")
BYTES_A_SAMPLE = 200  # all arrays of a run with a source, roughly
SOURCE_MEMORY = 2e9  # bytes
LENGTH_S = 4.0
AFTER_THE_LAST_NOTE = 0.5  # s
PLAYED = "a table with tension_hz, tune or phrase, or a [source] in its place"


def refuse_longer(scene, seconds: float, who: str):
    """SceneError for a scene whose sound is longer than what `who` can hold in memory."""
    if scene.sound.length_s > seconds:
        raise SceneError(
            f"{scene.path}: sound.length_s = {scene.sound.length_s:g}: {who} holds its sounds in "
            f"memory; expected {int(seconds)} s or less"
        )


@dataclass(frozen=True)
class Variant:
    """A scene with some keys replaced; `changed` says which, in sentences; `base` is the scene
    as written, None for that one itself."""

    name: str
    scene: "Scene"
    changed: tuple[str, ...]
    base: "Scene | None" = None

    @property
    def folder(self) -> str:
        """The variant's name as a folder name."""
        return slug(self.name)


@dataclass(frozen=True)
class Origin(BoreFiles):
    """What a scene was made from: its tables as written, its place, the bore files it names, and
    (name, change, scene) of each variant."""

    tables: dict = field(default_factory=dict, repr=False)
    others: tuple[tuple[str, dict, "Scene"], ...] = field(default=(), repr=False)


class Scene(Table):
    """A whole scene file, with every default filled in."""

    title: text() = ""
    listen_for: text() = ""
    ask: text() = ""
    choices: answers() = ()
    right: one_of_them() = None
    answer: text() = ""
    reason: text() = ""
    air: Air = Air()
    notes: Notes = Notes()
    instrument: Annotated[Instrument, Expected("a table with name or bore")]
    player: Player | None = None
    source: Source | None = Field(None, description="a sound put into the tube, without a player")
    lips: Lips = Lips()
    mouth: Mouth | None = Field(None, description="absent: an ideal source of pressure")
    sound: Sound = Sound()
    map: Map = Map()
    show: Show = Show()
    _origin: Origin = PrivateAttr()
    _spec: BoreFile = PrivateAttr()

    @classmethod
    def from_dict(cls, tables: dict, folder=".") -> "Scene":
        """The scene of these tables, as a file in `folder` would hold them; a list of tables
        under "variant" gives its variants.

        SceneError with every problem at once.

        >>> Scene.from_dict({"instrument": {"name": "hose"}, "player": {"tune": "C4 1"}}).title
        ''
        """
        return _whole(as_written(tables), _origin("scene", Path(folder)))

    def replace(self, changes: dict) -> "Scene":
        """The scene with other values, {"player.tension_hz": 300.0}, checked again as a whole;
        None takes a key out.  What stands in the place of another ("tune" of "tension_hz")
        takes it out.

        SceneError with every problem at once.
        """
        return _whole(replaced(self._origin.tables, changes), self._origin)

    def model_post_init(self, context):
        self._origin = context
        given = self.instrument.model_dump(exclude_none=True)
        self._spec, _ = resolve(given, context)  # its problems are told by [instrument]

    @classmethod
    def keys(cls):
        return [*cls.model_fields, "variant"]

    @classmethod
    def rules(cls, data, place):
        instrument, player = (as_table(data.get(key)) for key in ("instrument", "player"))
        spec, _ = resolve(instrument, place)
        found = unasked(data)
        found += [] if spec is None else misfits(instrument, player, spec)
        sound, distance = as_table(data.get("sound")), Sound.model_fields["distance_m"].default
        ears = misplaced_ears(sound, distance, spec is not None and spec.bell_up)
        found += [p._replace(loc=("sound", *p.loc)) for p in ears]
        if "player" in data and "source" in data:
            told = "expected either [player] or [source], not both"
            found.append(Problem(("source",), None, told, "plain"))
        elif "source" in data:
            found += [] if spec is None else misplaced(as_table(data["source"]), instrument, spec)
            shown = as_table(data.get("show"))
            told = "expected false: with a [source] nobody plays a note"
            found += [Problem(("show", k), True, told) for k in PLAYED_ONLY if shown.get(k)]
            if "mouth" in data:
                told = "expected no [mouth] beside a [source]: nobody blows"
                found.append(Problem(("mouth",), None, told, "plain"))
        elif "player" not in data:
            found.append(Problem(("player",), None, f"missing; expected {PLAYED}", "plain"))
        return found

    @classmethod
    def finish(cls, value):
        """Fill in the length; refuse notes that would not be heard."""
        sound = value.sound
        notes = value.player.notes if value.player else ()
        key = "tune" if value.player and value.player.tune else "phrase"
        if sound.length_s is None:
            room = room_of(sound.room)
            after = max(AFTER_THE_LAST_NOTE, room.reverberation_s if room else 0.0)
            length = notes[-1].end_s + after if notes else LENGTH_S
            if length > LONGEST_S:
                told = f"the notes last {length:g} s; expected {LONGEST_S:g} s or less"
                schema.raise_problems(Problem(("player", key), None, told, "plain"))
            sound = sound.model_copy(update={"length_s": length})
        begins = [(note.start_s, "the last note starts") for note in notes[-1:]]
        if value.source and value.source.kind == "pop":
            begins.append((value.source.start_s, "the pop begins"))
        for start, what in begins:
            least = round(start + SHORTEST_NOTE, 9)
            if sound.length_s < least:
                told = f"expected {least:.10g} s or more: {what} at {start:.10g} s"
                schema.raise_problems(Problem(("sound", "length_s"), sound.length_s, told))
        most = int(SOURCE_MEMORY / (BYTES_A_SAMPLE * sound.rate_hz))
        if value.source and sound.length_s > most:
            told = f"expected a number from 0.05 to {most} s: a [source] is held in memory"
            schema.raise_problems(Problem(("sound", "length_s"), sound.length_s, told))
        return value.model_copy(update={"sound": sound})

    @property
    def path(self) -> str:
        """The file's path as it was given."""
        return self._origin.path

    @property
    def variants(self) -> tuple[Variant, ...]:
        """The scene as written, then each [[variant]]."""
        before = self.inputs() if self._origin.others else {}
        others = [
            Variant(name, scene, changed(before, scene.inputs(), change), self)
            for name, change, scene in self._origin.others
        ]
        return (Variant(AS_WRITTEN, self, ()), *others)

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
        return self._spec

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
            "articulation": player.articulation,
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
    """The scene file at `path` with its variants; every problem at once in one SceneError.

    path: text or a Path.  Raises TypeError for anything else.

    >>> read_scene("my.toml").variants  # doctest: +SKIP
    """
    if not isinstance(path, str | PathLike):
        way = "; Scene.from_dict(tables) takes tables" if isinstance(path, dict) else ""
        raise TypeError(
            f"read_scene: path = {type(path).__name__}: expected the path of a scene file{way}"
        )
    data = toml.load(path)
    if "section" in data and "instrument" not in data:
        raise SceneError(
            f"{path}: this is a bore file; name it in a scene: "
            f'[instrument] bore = "{Path(path).name}"'
        )
    return _whole(data, _origin(path, Path(path).parent))


def _origin(path, folder: Path) -> Origin:
    place = place_of(path, project_folder(folder))
    return Origin(place.path, folder, place.root)


def _whole(tables: dict, origin: Origin) -> Scene:
    """The scene of `tables` with its variants; every problem at once in one SceneError."""
    if not isinstance(tables, dict):
        raise SceneError(f"{origin.path}: expected a table")
    data = {key: value for key, value in tables.items() if key != "variant"}
    changes, bad_variants = variant_changes(tables.get("variant", []))
    others = [(name, change, *_variant(data, name, change, origin)) for name, change in changes]
    kept = tuple(other[:3] for other in others)
    scene, told = _checked(data, replace(origin, tables=tables, others=kept), "")
    known = {problem.removeprefix(f"{origin.path}: ") for problem in told}
    told += [f"{origin.path}: {problem}" for problem in bad_variants]
    for name, _, _, more in others:  # what is wrong in the scene itself is told once
        start = f"{origin.path}: {_label(name)}"
        told += [problem for problem in more if problem.removeprefix(start) not in known]
    if told:
        raise SceneError(schema.capped(told, origin.path))
    return scene


def _label(name: str) -> str:
    return f"variant {schema.quoted(name)}: "


def _variant(data: dict, name: str, change: dict, origin: Origin):
    merged = merge(data, change)
    return _checked(merged, replace(origin, tables=merged, others=()), _label(name))


def _checked(data: dict, origin: Origin, label: str) -> tuple[Scene | None, list[str]]:
    try:
        return Scene.model_validate(data, context=origin), []
    except ValidationError as error:
        return None, schema.problems(error, origin.path, data, label)
