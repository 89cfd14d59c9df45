"""The whole bore file: schema, valves, mute, hand, read and parse."""

import re
from pathlib import Path
from typing import Annotated

from pydantic import Field, ValidationError

from lipmodel.bore.sections import AnySection, Points, section_length_mm
from lipmodel.errors import SceneError
from lipmodel.files import schema, toml
from lipmodel.files.paths import FileContext, place_of
from lipmodel.files.schema import (
    Expected,
    Problem,
    Table,
    choice,
    number,
    text,
    whole,
    yes_no,
)
from lipmodel.units import ACCIDENTALS, STEPS, parse_note

MOST_SECTIONS = 100
MOST_POINTS_IN_ALL = 20_000
TOTAL_MM = (10.0, 50_000.0)
ORDINALS = ("first", "second", "third", "fourth")
PITCH = re.compile(r"([A-G])([b♭#♯]?)")


class Valves(Table):
    """Tube that each valve adds, mm."""

    first_mm: number(1, 5000, "mm") | None = None
    second_mm: number(1, 5000, "mm") | None = None
    third_mm: number(1, 5000, "mm") | None = None
    fourth_mm: number(1, 5000, "mm") | None = None

    first_throw_mm: number(0, 100, "mm") = Field(
        0.0, description="how far the slide of valve 1 is moved while playing"
    )
    third_throw_mm: number(0, 100, "mm") = Field(
        0.0, description="how far the slide of valve 3 is moved while playing"
    )

    @property
    def throws_mm(self) -> dict[str, float]:
        """How far a valve slide is moved while playing, mm; 0 where no finger reaches it."""
        return {"first": self.first_throw_mm, "third": self.third_throw_mm}

    @property
    def lengths_mm(self) -> dict[int, float]:
        """Tube in mm by the valve's number."""
        by_number = {i: getattr(self, f"{word}_mm") for i, word in enumerate(ORDINALS, 1)}
        return {i: length for i, length in by_number.items() if length is not None}


class Mute(Table):
    """A closed cone that stands in the bell on corks."""

    length_mm: number(10, 1000, "mm") = 160.0
    small_diameter_mm: number(1, 1000, "mm") = 30.0
    large_diameter_mm: number(1, 1000, "mm") = 100.0
    cork_mm: number(0.2, 50, "mm") = Field(3.0, description="between cone and bell")

    @classmethod
    def rules(cls, data, place):
        small, large = (
            data.get(key, cls.model_fields[key].default)
            for key in ("small_diameter_mm", "large_diameter_mm")
        )
        if schema.is_number(small) and schema.is_number(large) and not large >= small:
            allowed = f"expected at least the small end's {small:g} mm"
            return [Problem(("large_diameter_mm",), large, allowed)]
        return []


class Hand(Table):
    """A hand held in the bell."""

    open_percent: number(2, 100, "%") = Field(40.0, description="of the area that it leaves open")
    depth_mm: number(0, 500, "mm") = Field(70.0, description="from the open end")
    length_mm: number(10, 500, "mm") = 100.0


def _pitch(value):
    if not isinstance(value, str) or not PITCH.fullmatch(value):
        raise ValueError
    return value


def _note(value):
    if not isinstance(value, str):
        raise ValueError
    parse_note(value)
    return value.strip()


NoteName = schema.parsed(str, _note, 'a note such as "C4", "Bb3" or "F#5"')


def _compass(value):
    if not isinstance(value, list) or len(value) != 2:
        raise ValueError
    low, high = (parse_note(_note(v)) for v in value)
    if not low < high:
        raise ValueError("expected the lower note first")
    return tuple(value)


Pitch = schema.parsed(str, _pitch, 'a note without octave, such as "C", "Bb" or "F#"')
Compass = schema.parsed(
    tuple[str, str], _compass, 'the lowest and highest sounding note, such as ["E3", "Bb5"]'
)


class BoreFile(Table):
    """A whole bore file, in the units of the file."""

    title: text() = ""
    kind: choice("instrument", "teaching") = "teaching"
    end: choice("unflanged", "flanged", "closed", "node") = "unflanged"
    pitched_in: Pitch = Field("C", description="written C sounds this note")
    transposition_semitones: whole(-36, 36) = Field(0, description="sounding minus written")
    fundamental: NoteName | None = Field(
        None, description="sounding note of the first partial, open; default: written C3"
    )
    player: choice("small", "large") = "small"
    resting_cents: number(-100, 100, "cents") | None = Field(
        None, description="at which notes rest above their resonance; default: the player's"
    )
    compass: Compass | None = Field(None, description="lowest and highest sounding note")
    tuning_slide_in_mm: number(0, 100, "mm") = Field(
        0.0, description="how far the tuning slide goes in from where it rests"
    )
    bell_up: yes_no() = Field(False, description="the bell points up when it is played")
    hand_in_bell: yes_no() = Field(False, description="players hold a hand in the bell")
    slide_travel_mm: number(1, 2000, "mm") | None = None
    valves: Valves = Valves()
    mute: Mute | None = Field(None, description="stands in the bell")
    hand: Hand | None = Field(None, description="is held in the bell")
    section: Annotated[
        schema.listed(AnySection, MOST_SECTIONS, "sections"),
        Expected("at least one [[section]]"),
    ]

    def tables(self) -> dict:
        """What a bore file of this bore says, ready for JSON: nothing that is a default."""
        return self.model_dump(mode="json", exclude_defaults=True, exclude_none=True)

    @classmethod
    def complete(cls, data):
        """Without transposition_semitones: down to `pitched_in` from C."""
        match = PITCH.fullmatch(str(data.get("pitched_in", "C")))
        if "transposition_semitones" in data or not match:
            return data
        step = STEPS[match[1]] + ACCIDENTALS[match[2]]
        return {**data, "transposition_semitones": -(-step % 12)}

    @classmethod
    def rules(cls, data, place):
        sections = data.get("section")
        if not isinstance(sections, list):
            return []
        if not 1 <= len(sections) <= MOST_SECTIONS:  # too many are told by the list's type
            told = Problem(("section",), None, "expected at least one [[section]]", "plain")
            return [told] * (not sections)
        tables = [s if isinstance(s, dict) else {} for s in sections]
        late = [
            Problem(("section", i, "shape"), "mouthpiece", "expected it to be the first section")
            for i, s in enumerate(tables)
            if i and s.get("shape") == "mouthpiece"
        ]
        return late + _mark_problems(tables, data.get("valves", {}))

    @classmethod
    def finish(cls, value):
        low, high = TOTAL_MM
        total = sum(section_length_mm(s) for s in value.section)
        if not low <= total <= high:
            told = f"the whole bore is {total:g} mm long; expected from {low:g} to {high:g} mm"
            schema.raise_problems(Problem(("section",), None, told, "plain"))
        points = sum(len(s.points_mm) for s in value.section if isinstance(s, Points))
        if points > MOST_POINTS_IN_ALL:
            told = f"{points} points in all; expected up to {MOST_POINTS_IN_ALL}"
            schema.raise_problems(Problem(("section",), None, told, "plain"))
        if told := _tuning_slide_problems(value):
            schema.raise_problems(*told)
        return value


def _tuning_slide_problems(value: BoreFile) -> list[Problem]:
    """A tuning slide that goes further in than half of the tube before its middle."""
    into, at = value.tuning_slide_in_mm, ("tuning_slide_in_mm",)
    tubes = [s.length_mm for s in value.section if getattr(s, "tuning_slide", False)]
    if into and not tubes:
        return [Problem(at, into, "expected a cylinder with tuning_slide = true")]
    if tubes and 4 * into > tubes[0]:
        told = f"expected up to {tubes[0] / 4:g}, a quarter of the tuning slide's cylinder"
        return [Problem(at, into, told)]
    return []


def _mark_problems(sections: list[dict], valves) -> list[Problem]:
    """Marks that come twice, marks without a length in [valves], and lengths without a mark."""
    found, seen = [], set()
    for i, section in enumerate(sections):
        for key in ("tuning_slide", "slide"):
            if section.get(key) is True and key in seen:
                found.append(Problem(("section", i, key), True, "expected once in a bore"))
            if section.get(key) is True:
                seen.add(key)
        marks = section.get("valves")
        for j, mark in enumerate(marks if isinstance(marks, list) else []):
            valve = mark[0] if isinstance(mark, list) and mark else None
            if type(valve) is not int or not 1 <= valve <= 4:
                continue
            at = ("section", i, "valves", j)
            if valve in seen:
                found.append(Problem(at, mark, f"expected valve {valve} once in a bore"))
            elif isinstance(valves, dict) and f"{ORDINALS[valve - 1]}_mm" not in valves:
                told = f"expected {ORDINALS[valve - 1]}_mm, the tube it adds, in [valves]"
                found.append(Problem(at, mark, told))
            seen.add(valve)
    for number_, word in enumerate(ORDINALS, 1):
        if isinstance(valves, dict) and f"{word}_mm" in valves and number_ not in seen:
            told = f"no place in the bore; expected valves = [[{number_}, place_mm]] in a cylinder"
            found.append(Problem(("valves", f"{word}_mm"), valves[f"{word}_mm"], told))
    return found


def read_bore_file(path) -> BoreFile:
    """The bore file at `path`, checked; every problem at once in one SceneError."""
    place = place_of(path, Path(path).parent)
    return parse_bore(toml.load(path), path, place.root)


def parse_bore(data: dict, where, root) -> BoreFile:
    """Bore file from its tables; `where` is its path, `root` the folder in which it may name CSV
    files (None: anywhere)."""
    place = FileContext(str(where), Path(where).parent, root and Path(root))
    try:
        return BoreFile.model_validate(data, context=place)
    except ValidationError as error:
        raise SceneError(schema.problems(error, where, data)) from error
