"""What a bore file may say: a model per shape of section, in the units of the file."""

from pathlib import Path
from typing import Annotated

from pydantic import BeforeValidator, Field

from lipmodel.bore.points import check_points, read_profile
from lipmodel.bore.shapes import cup_volumes
from lipmodel.files import paths, schema
from lipmodel.files.paths import FileContext
from lipmodel.files.schema import Problem, Table, choice, number, text, yes_no

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
        if not all(schema.is_number(v) and v > 0 for v in (rim, throat, depth, volume)):
            return []
        if not throat < rim:
            allowed = f"expected less than the rim's {rim:g} mm"
            return [Problem(("throat_diameter_mm",), throat, allowed)]
        low, high = (1e6 * v for v in cup_volumes(rim / 2e3, throat / 2e3, depth / 1e3))
        if low <= volume <= high:
            return []
        reach = f"out of reach; this rim, depth and throat allow {low:.3f} to {high:.3f} ml"
        return [Problem(("cup_volume_ml",), volume, reach)]


def _valve_mark(value):
    """[valve, place_mm] of a valve's tube in a cylinder."""
    good = isinstance(value, list) and len(value) == 2
    if not (good and type(value[0]) is int and 1 <= value[0] <= 4):
        raise ValueError
    if not (schema.is_number(value[1]) and 0 <= value[1] <= 20_000):
        raise ValueError
    return value[0], float(value[1])


ValveMark = schema.parsed(
    tuple[int, float], _valve_mark, "[valve, place_mm], such as [1, 120.0], valves 1 to 4"
)


class Cylinder(Section):
    """A straight tube, and where tube can be put into it."""

    shape: choice("cylinder")
    length_mm: Length
    diameter_mm: Diameter
    tuning_slide: yes_no() = Field(False, description="the tuning slide is half way along")
    slide: yes_no() = Field(False, description="the playing slide is half way along")
    valves: schema.listed(ValveMark, 4, "valves") = Field(
        (), description="[valve, mm from the section's start]"
    )

    @classmethod
    def rules(cls, data, place):
        length, marks = data.get("length_mm"), data.get("valves")
        if not (isinstance(marks, list) and schema.is_number(length)):
            return []
        pairs = [(i, m) for i, m in enumerate(marks) if isinstance(m, list) and len(m) == 2]
        return [
            Problem(("valves", i, 1), m[1], f"expected a place inside the section's {length:g} mm")
            for i, m in pairs
            if schema.is_number(m[1]) and m[1] > length
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
        if schema.is_number(start) and schema.is_number(end) and not end > start:
            ten = f"; {10 * end:.1f} mm?" if 10 * end > start else ""
            allowed = f"expected more than the start's {start:g} mm; a bessel horn widens{ten}"
            return [Problem(("end_diameter_mm",), end, allowed)]
        return []


class Points(Section):
    """Straight lines between points; from a file, `points_mm` holds what the file says."""

    shape: choice("points")
    points_mm: schema.parsed(
        tuple[tuple[float, float], ...], check_points, "a list of at least two [x, diameter]"
    )
    file: text(500) | None = None

    @classmethod
    def from_file(cls, data: dict, place: FileContext | None) -> dict:
        """`data` with the points of its `file`; refuses both, neither, and a bad file."""
        if "file" not in data:
            if "points_mm" not in data:
                schema.raise_problems(
                    Problem(("points_mm",), None, "missing; expected points_mm or file", "plain")
                )
            return data
        if "points_mm" in data:
            schema.raise_problems(
                Problem(("file",), data["file"], "expected points_mm or file, not both")
            )
        if place is None or not isinstance(data["file"], str):
            schema.raise_problems(Problem(("file",), data["file"], "expected the name of a file"))
        try:
            path = paths.file_beside(data["file"], place, "the bore file's folder")
        except ValueError as error:
            schema.raise_problems(Problem(("file",), data["file"], str(error)))
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
        schema.raise_problems(Problem((), value, "expected a table [[section]]"))
    shapes = schema.one_of(SHAPES)
    if "shape" not in value:
        schema.raise_problems(Problem(("shape",), None, f"missing; expected {shapes}", "plain"))
    shape = value["shape"]
    if not isinstance(shape, str) or shape not in SHAPES:
        near = schema.did_you_mean(shape, SHAPES) if isinstance(shape, str) else ""
        schema.raise_problems(Problem(("shape",), shape, f"expected {shapes}{near}"))
    if shape == "points":
        value = Points.from_file(value, info.context)
    return SHAPES[shape].model_validate(value, context=info.context)


AnySection = Annotated[
    Mouthpiece | Cylinder | Cone | Bessel | Exponential | Points, BeforeValidator(_section)
]


def section_length_mm(section: Section) -> float:
    """Length of a section along the axis, mm, with no tube put in."""
    if isinstance(section, Mouthpiece):
        return section.cup_depth_mm + section.throat_length_mm + section.backbore_length_mm
    if isinstance(section, Points):
        return section.points_mm[-1][0]
    return section.length_mm


def ends_mm(section: Section) -> tuple[float, float, str]:
    """Diameters of a section at its start and end, mm, and the key that holds the latter."""
    if isinstance(section, Mouthpiece):
        end = "backbore_end_diameter_mm"
        return section.rim_diameter_mm, section.backbore_end_diameter_mm, end
    if isinstance(section, Points):
        return section.points_mm[0][1], section.points_mm[-1][1], "points_mm"
    if isinstance(section, Cylinder):
        return section.diameter_mm, section.diameter_mm, "diameter_mm"
    return section.start_diameter_mm, section.end_diameter_mm, "end_diameter_mm"
