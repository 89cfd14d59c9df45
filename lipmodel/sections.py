"""What a bore file may say: a model per shape of section, in the units of the file."""

import re
from pathlib import Path
from typing import Annotated

from pydantic import BeforeValidator, Field

from lipmodel import paths, reading
from lipmodel.paths import Place
from lipmodel.profile import check_points, read_profile
from lipmodel.reading import Expected, Found, Table, choice, number, text, whole, yes_no
from lipmodel.shapes import cup_volumes
from lipmodel.units import ACCIDENTALS, STEPS, parse_note

MOST_SECTIONS = 100
MOST_POINTS_IN_ALL = 20_000
TOTAL_MM = (10.0, 50_000.0)
ORDINALS = ("first", "second", "third", "fourth")

Length = number(0.01, 20_000, "mm")
Diameter = number(0.5, 2000, "mm")


class Section(Table):
    """What all sections share."""

    name: text(60) | None = Field(None, description="mouthpiece, leadpipe and bell can be changed")

    @property
    def label(self) -> str:
        """The section's name, else its shape."""
        return self.name or self.shape


class Mouthpiece(Section):
    """Cup, throat and backbore."""

    shape: choice("mouthpiece")
    rim_diameter_mm: number(2, 100, "mm")
    cup_depth_mm: number(0.5, 200, "mm")
    cup_volume_ml: number(0.05, 200, "ml")
    throat_diameter_mm: number(0.5, 50, "mm")
    throat_length_mm: number(0, 200, "mm")
    backbore_length_mm: number(0.01, 500, "mm")
    backbore_end_diameter_mm: number(0.5, 100, "mm")

    @classmethod
    def rules(cls, data, place):
        rim, throat, depth, volume = (
            data.get(key)
            for key in ("rim_diameter_mm", "throat_diameter_mm", "cup_depth_mm", "cup_volume_ml")
        )
        if not all(reading.is_number(v) and v > 0 for v in (rim, throat, depth, volume)):
            return []
        if not throat < rim:
            allowed = f"expected less than the rim's {rim:g} mm"
            return [Found(("throat_diameter_mm",), throat, allowed)]
        low, high = (1e6 * v for v in cup_volumes(rim / 2e3, throat / 2e3, depth / 1e3))
        if low <= volume <= high:
            return []
        reach = f"out of reach; this rim, depth and throat allow {low:.3f} to {high:.3f} ml"
        return [Found(("cup_volume_ml",), volume, reach)]


def _valve_mark(value):
    """[valve, place_mm] of a valve's tube in a cylinder."""
    good = isinstance(value, list) and len(value) == 2
    if not (good and type(value[0]) is int and 1 <= value[0] <= 4):
        raise ValueError
    if not (reading.is_number(value[1]) and 0 <= value[1] <= 20_000):
        raise ValueError
    return value[0], float(value[1])


ValveMark = reading.parsed(
    tuple[int, float], _valve_mark, "[valve, place_mm], such as [1, 120.0], valves 1 to 4"
)


class Cylinder(Section):
    """A straight tube, and where tube can be put into it."""

    shape: choice("cylinder")
    length_mm: Length
    diameter_mm: Diameter
    tuning_slide: yes_no() = Field(False, description="the tuning slide is half way along")
    slide: yes_no() = Field(False, description="the playing slide is half way along")
    valves: reading.listed(ValveMark, 4, "valves") = Field(
        (), description="[valve, mm from the section's start]"
    )

    @classmethod
    def rules(cls, data, place):
        length, marks = data.get("length_mm"), data.get("valves")
        if not (isinstance(marks, list) and reading.is_number(length)):
            return []
        pairs = [(i, m) for i, m in enumerate(marks) if isinstance(m, list) and len(m) == 2]
        return [
            Found(("valves", i, 1), m[1], f"expected a place inside the section's {length:g} mm")
            for i, m in pairs
            if reading.is_number(m[1]) and m[1] > length
        ]


class Cone(Section):
    """A straight cone, either way."""

    shape: choice("cone")
    length_mm: Length
    start_diameter_mm: Diameter
    end_diameter_mm: Diameter


class Exponential(Cone):
    """An exponential horn, either way."""

    shape: choice("exponential")


class Bessel(Cone):
    """A Bessel horn: it widens towards its end, the faster the larger `flare`."""

    shape: choice("bessel")
    flare: number(0.05, 5)

    @classmethod
    def rules(cls, data, place):
        start, end = data.get("start_diameter_mm"), data.get("end_diameter_mm")
        if reading.is_number(start) and reading.is_number(end) and not end > start:
            allowed = f"expected more than the start's {start:g} mm; a bessel horn widens"
            return [Found(("end_diameter_mm",), end, allowed)]
        return []


class Points(Section):
    """Straight lines between points; from a file, `points_mm` holds what the file says."""

    shape: choice("points")
    points_mm: reading.parsed(
        tuple[tuple[float, float], ...], check_points, "a list of at least two [x, diameter]"
    )
    file: text(500) | None = None

    @classmethod
    def from_file(cls, data: dict, place: Place | None) -> dict:
        """`data` with the points of its `file`; refuses both, neither, and a bad file."""
        if "file" not in data:
            if "points_mm" not in data:
                reading.refuse(
                    Found(("points_mm",), None, "missing; expected points_mm or file", "plain")
                )
            return data
        if "points_mm" in data:
            reading.refuse(Found(("file",), data["file"], "expected points_mm or file, not both"))
        if place is None or not isinstance(data["file"], str):
            reading.refuse(Found(("file",), data["file"], "expected the name of a file"))
        try:
            path = paths.file_beside(data["file"], place, "the bore file's folder")
        except ValueError as error:
            reading.refuse(Found(("file",), data["file"], str(error)))
        return {**data, "points_mm": read_profile(path, Path(place.path).parent / data["file"])}


SHAPES = {
    "mouthpiece": Mouthpiece,
    "cylinder": Cylinder,
    "cone": Cone,
    "bessel": Bessel,
    "exponential": Exponential,
    "points": Points,
}


def _section(value, info):
    """A section's table as the model of its shape."""
    if isinstance(value, Section):
        return value
    if not isinstance(value, dict):
        reading.refuse(Found((), value, "expected a table [[section]]"))
    shapes = reading.one_of(SHAPES)
    if "shape" not in value:
        reading.refuse(Found(("shape",), None, f"missing; expected {shapes}", "plain"))
    shape = value["shape"]
    if not isinstance(shape, str) or shape not in SHAPES:
        near = reading.meant(shape, SHAPES) if isinstance(shape, str) else ""
        reading.refuse(Found(("shape",), shape, f"expected {shapes}{near}"))
    if shape == "points":
        value = Points.from_file(value, info.context)
    return SHAPES[shape].model_validate(value, context=info.context)


AnySection = Annotated[
    Mouthpiece | Cylinder | Cone | Bessel | Exponential | Points, BeforeValidator(_section)
]


class Valves(Table):
    """Tube that each valve adds, mm."""

    first_mm: number(1, 5000, "mm") | None = None
    second_mm: number(1, 5000, "mm") | None = None
    third_mm: number(1, 5000, "mm") | None = None
    fourth_mm: number(1, 5000, "mm") | None = None

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
        if reading.is_number(small) and reading.is_number(large) and not large >= small:
            allowed = f"expected at least the small end's {small:g} mm"
            return [Found(("large_diameter_mm",), large, allowed)]
        return []


class Hand(Table):
    """A hand held in the bell."""

    open_percent: number(2, 100, "%") = Field(40.0, description="of the area that it leaves open")
    depth_mm: number(0, 500, "mm") = Field(70.0, description="from the open end")
    length_mm: number(10, 500, "mm") = 100.0


PITCH = re.compile(r"([A-G])([b♭#♯]?)")


def _pitch(value):
    if not isinstance(value, str) or not PITCH.fullmatch(value):
        raise ValueError
    return value


def _note(value):
    if not isinstance(value, str):
        raise ValueError
    parse_note(value)
    return value.strip()


NoteName = reading.parsed(str, _note, 'a note such as "C4", "Bb3" or "F#5"')


def _compass(value):
    if not isinstance(value, list) or len(value) != 2:
        raise ValueError
    low, high = (parse_note(_note(v)) for v in value)
    if not low < high:
        raise ValueError("expected the lower note first")
    return tuple(value)


Pitch = reading.parsed(str, _pitch, 'a note without octave, such as "C", "Bb" or "F#"')
Compass = reading.parsed(
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
    slide_travel_mm: number(1, 2000, "mm") | None = None
    valves: Valves = Valves()
    mute: Mute | None = Field(None, description="stands in the bell")
    hand: Hand | None = Field(None, description="is held in the bell")
    section: Annotated[
        reading.listed(AnySection, MOST_SECTIONS, "sections"),
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
            told = Found(("section",), None, "expected at least one [[section]]", "plain")
            return [told] * (not sections)
        tables = [s if isinstance(s, dict) else {} for s in sections]
        late = [
            Found(("section", i, "shape"), "mouthpiece", "expected it to be the first section")
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
            reading.refuse(Found(("section",), None, told, "plain"))
        points = sum(len(s.points_mm) for s in value.section if isinstance(s, Points))
        if points > MOST_POINTS_IN_ALL:
            told = f"{points} points in all; expected up to {MOST_POINTS_IN_ALL}"
            reading.refuse(Found(("section",), None, told, "plain"))
        return value


def _mark_problems(sections: list[dict], valves) -> list[Found]:
    """Marks that come twice, marks without a length in [valves], and lengths without a mark."""
    found, seen = [], set()
    for i, section in enumerate(sections):
        for key in ("tuning_slide", "slide"):
            if section.get(key) is True and key in seen:
                found.append(Found(("section", i, key), True, "expected once in a bore"))
            if section.get(key) is True:
                seen.add(key)
        marks = section.get("valves")
        for j, mark in enumerate(marks if isinstance(marks, list) else []):
            valve = mark[0] if isinstance(mark, list) and mark else None
            if type(valve) is not int or not 1 <= valve <= 4:
                continue
            at = ("section", i, "valves", j)
            if valve in seen:
                found.append(Found(at, mark, f"expected valve {valve} once in a bore"))
            elif isinstance(valves, dict) and f"{ORDINALS[valve - 1]}_mm" not in valves:
                told = f"expected {ORDINALS[valve - 1]}_mm, the tube it adds, in [valves]"
                found.append(Found(at, mark, told))
            seen.add(valve)
    for number_, word in enumerate(ORDINALS, 1):
        if isinstance(valves, dict) and f"{word}_mm" in valves and number_ not in seen:
            told = f"no place in the bore; expected valves = [[{number_}, place_mm]] in a cylinder"
            found.append(Found(("valves", f"{word}_mm"), valves[f"{word}_mm"], told))
    return found


def section_length_mm(section: Section) -> float:
    """Length of a section along the axis, mm, with no tube put in."""
    if isinstance(section, Mouthpiece):
        return section.cup_depth_mm + section.throat_length_mm + section.backbore_length_mm
    if isinstance(section, Points):
        return section.points_mm[-1][0]
    return section.length_mm
