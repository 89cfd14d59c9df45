"""The [instrument] table: what is blown, and the bore that comes of it."""

from dataclasses import dataclass, field

from pydantic import Field

from lipmodel.bore import instruments
from lipmodel.bore.bore_file import BoreFile, Hand, Mute, parse_bore
from lipmodel.bore.parts import OBSTACLES, PARTS, with_obstacle, with_part
from lipmodel.bore.valves import has_mark, missing_valves, parse_valves, valve_numbers
from lipmodel.errors import SceneError
from lipmodel.files import paths, schema, toml
from lipmodel.files.paths import FileContext
from lipmodel.files.schema import Problem, Table, number, text, yes_no
from lipmodel.scene.player import SlidePosition, SlidePull, TuningPull, ValveMoves, valves_type


@dataclass(frozen=True)
class BoreFiles(FileContext):
    """Where a scene is, with the bore files that it names, each read once: what a file says
    while it is checked is what is used."""

    read: dict = field(default_factory=dict, repr=False, compare=False)


class Instrument(Table):
    """What is blown: built in or a bore file, with parts changed, valves and slides."""

    name: text(60) | None = Field(None, description="built in")
    bore: text(500) | None = Field(None, description="a bore file")
    mouthpiece: text(500) | None = Field(None, description='built-in part, bore file or "none"')
    leadpipe: text(500) | None = Field(None, description='built-in part, bore file or "none"')
    bell: text(500) | None = Field(None, description='built-in part, bore file or "none"')
    valves: valves_type("") = "0"
    valve_moves: ValveMoves = Field((), description="of a scene with a lip setting, from its start")
    tuning_slide_pull_mm: TuningPull = 0.0
    first_slide_pull_mm: SlidePull = 0.0
    third_slide_pull_mm: SlidePull = 0.0
    slide_position: SlidePosition = 1.0
    wall_roughness: number(1, 2) = Field(1.0, description="times the losses of a smooth wall")
    throat_loss: yes_no() = Field(True, description="air loses speed behind the throat")
    mute: Mute | None = Field(None, description="a closed cone on corks in the bell")
    hand: Hand | None = Field(None, description="a hand in the bell")

    @classmethod
    def rules(cls, data, place):
        if "name" in data and "bore" in data:
            return [Problem(("bore",), data["bore"], "expected either name or bore, not both")]
        if "name" not in data and "bore" not in data:
            return [Problem((), None, "expected name (built in) or bore (a bore file)", "plain")]
        return resolve(data, place)[1]


def as_table(value) -> dict:
    return value if isinstance(value, dict) else {}


def resolve(given: dict, place: BoreFiles | None) -> tuple[BoreFile | None, list[Problem]]:
    """The bore of an [instrument] table as written, and what stands in the way of it."""
    keys = [key for key in ("name", "bore") if isinstance(given.get(key), str)]
    if place is None or len(keys) != 1:
        return None, []
    key, value = keys[0], given[keys[0]]
    if key == "name" and value not in instruments.names():
        return None, [Problem((key,), value, instruments.unknown(value, instruments.names()))]
    spec = instruments.spec(value) if key == "name" else _bore_of(key, value, place)
    if isinstance(spec, list):
        return None, spec
    found = []
    for part in PARTS:
        wanted = given.get(part)
        if not isinstance(wanted, str):
            continue
        other = _part(part, wanted, place)
        if isinstance(other, list):
            found += other
            continue
        try:
            spec = with_part(spec, part, other)
        except SceneError as error:
            found.append(Problem((part,), wanted, str(error)))
    for key in OBSTACLES:
        try:
            spec = with_obstacle(spec, key, given.get(key))
        except SceneError as error:
            found.append(Problem((key,), None, str(error), "plain"))
    return spec, found


def _part(part: str, wanted: str, place: BoreFiles) -> "BoreFile | str | list[Problem]":
    if wanted == "none":
        return wanted
    known = instruments.part_names(part)
    if wanted in known:
        return instruments.part(part, wanted)
    if wanted.endswith(".toml") or "/" in wanted or "\\" in wanted:
        return _bore_of(part, wanted, place)
    allowed = schema.one_of(["none", *known, "a bore file (.toml)"])
    return [Problem((part,), wanted, f"expected {allowed}{schema.did_you_mean(wanted, known)}")]


def _bore_of(key: str, name: str, place: BoreFiles) -> BoreFile | list[Problem]:
    if (key, name) not in place.read:
        place.read[key, name] = _read_bore(key, name, place)
    return place.read[key, name]


def _read_bore(key: str, name: str, place: FileContext) -> BoreFile | list[Problem]:
    try:
        path = paths.file_beside(name, place, "the scene's project folder")
    except ValueError as error:
        return [Problem((key,), name, str(error))]
    try:
        return parse_bore(toml.load(path), path, None if place.root is None else path.parent)
    except SceneError as error:
        return [Problem((key,), name, problem, "whole") for problem in error.problems]


def misfits(instrument: dict, player: dict, spec: BoreFile):
    """What the scene asks of an instrument that has no such valve or slide."""
    notes = player.get("phrase")
    notes = [as_table(n) for n in notes] if isinstance(notes, list) else []
    tables = [(("instrument",), instrument)]
    tables += [(("player", "phrase", i), note) for i, note in enumerate(notes)]
    for loc, table in tables:
        if told := missing_valves(spec, _pressed(table.get("valves", "0"))):
            yield Problem((*loc, "valves"), table["valves"], told)
        for valve, key in ((1, "first_slide_pull_mm"), (3, "third_slide_pull_mm")):
            if table.get(key) and valve not in valve_numbers(spec):
                yield Problem((*loc, key), table[key], f"expected 0: it has no valve {valve}")
        if table.get("slide_position", 1) != 1 and not has_mark(spec, "slide"):
            yield Problem(
                (*loc, "slide_position"), table["slide_position"], "expected 1: it has no slide"
            )
    for loc, table in [(("player",), player), *tables[1:]]:
        by = as_table(table.get("vibrato")).get("by")
        if by == "slide" and not has_mark(spec, "slide"):
            yield Problem((*loc, "vibrato", "by"), by, "expected lips or breath: it has no slide")
    yield from _valve_moves(instrument.get("valve_moves"), "tension_hz" in player, spec)
    yield from _tuning_slide(instrument.get("tuning_slide_pull_mm"), spec)
    if instrument.get("valves") == "auto" and "tension_hz" in player:
        told = 'expected valves such as "0", "2" or "13"; "auto" needs a tune or a phrase'
        yield Problem(("instrument", "valves"), "auto", told)


def _valve_moves(moves, by_lips: bool, spec: BoreFile):
    if not isinstance(moves, list) or not moves:
        return
    if not by_lips:
        told = "expected none: notes name their own valves; with tension_hz valves move by time"
        yield Problem(("instrument", "valve_moves"), None, told, "plain")
    for i, move in enumerate(moves):
        valves = move[1] if isinstance(move, list) and len(move) == 2 else "0"
        if told := missing_valves(spec, _pressed(valves)):
            yield Problem(("instrument", "valve_moves", i, 1), valves, told)


def _tuning_slide(pull, spec: BoreFile):
    if not pull or not schema.is_number(pull):
        return
    loc, least = ("instrument", "tuning_slide_pull_mm"), -spec.tuning_slide_in_mm
    if not has_mark(spec, "tuning_slide"):
        yield Problem(loc, pull, "expected 0: it has no tuning slide")
    elif pull < least:
        told = f"expected from {least:g} to 200 mm: it goes in no further"
        yield Problem(loc, pull, told)


def _pressed(valves) -> set[int]:
    try:
        return {int(v) for v in parse_valves(valves)} - {0}
    except ValueError:  # "auto", or told by the key's own type
        return set()
