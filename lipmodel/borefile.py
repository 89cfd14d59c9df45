"""Bore files: read and checked, their parts changed, and made into a `Bore` in metres."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from pydantic import ValidationError

from lipmodel import obstacles, reading, shapes
from lipmodel.bore import Bore
from lipmodel.bore import Section as Stretch
from lipmodel.errors import SceneError
from lipmodel.paths import Place, place_of
from lipmodel.reading import one_of
from lipmodel.sections import (
    ORDINALS,
    BoreFile,
    Cylinder,
    Hand,
    Mouthpiece,
    Mute,
    Points,
    Valves,
)
from lipmodel.units import MM

PARTS = ("mouthpiece", "leadpipe", "bell")
OBSTACLES = {"mute": Mute, "hand": Hand}
STEP_TOLD = 0.02  # of the diameter; smaller ones are within common workmanship


@dataclass(frozen=True, slots=True)
class Insert:
    """Tube put in at a mark: where from the section's start, and how much, metres."""

    mark: str
    at: float
    length: float


def read_bore_file(path) -> BoreFile:
    """The bore file at `path`, checked; every problem at once in one SceneError."""
    place = place_of(path, Path(path).parent)
    return parse_bore(reading.load(path), path, place.root)


def parse_bore(data: dict, where, root) -> BoreFile:
    """Bore file from its tables; `where` is its path, `root` the folder in which it may name CSV
    files (None: anywhere)."""
    place = Place(str(where), Path(where).parent, root and Path(root))
    try:
        return BoreFile.model_validate(data, context=place)
    except ValidationError as error:
        raise SceneError(reading.problems(error, where, data)) from error


def valve_numbers(spec: BoreFile) -> tuple[int, ...]:
    """Numbers of the valves that the bore has."""
    return tuple(spec.valves.lengths_mm)


def has_mark(spec: BoreFile, key: str) -> bool:
    """Whether a cylinder of the bore has the mark "tuning_slide" or "slide"."""
    return any(getattr(section, key, False) for section in spec.section)


def parse_valves(value) -> str:
    """Valves pressed as "0", "2", "13" from "13", "1-3", "1+3", 13, 0 or "open".

    Raises ValueError with what is allowed.
    """
    allowed = 'expected valves such as "0", "2" or "13"'
    if isinstance(value, bool) or not isinstance(value, int | str):
        raise ValueError(allowed)
    written = str(value).strip().lower()
    if written in ("0", "open"):
        return "0"
    digits = written.replace("-", "").replace("+", "") if isinstance(value, str) else written
    if not digits or set(digits) - set("1234") or len(set(digits)) != len(digits):
        raise ValueError(allowed)
    return "".join(sorted(digits))


def valve_set(spec: BoreFile, valves) -> frozenset[int]:
    """Numbers of the valves in a spelling that `parse_valves` knows, or in a set of numbers.

    SceneError if the bore does not have one.
    """
    if not isinstance(valves, str | int):
        valves = "".join(str(v) for v in sorted(valves)) or "0"
    try:
        pressed = frozenset(int(v) for v in parse_valves(valves)) - {0}
    except ValueError as error:
        raise SceneError(f"valves = {valves!r}: {error}") from error
    if told := missing_valves(spec, pressed):
        raise SceneError(told)
    return pressed


def missing_valves(spec: BoreFile, pressed) -> str:
    """A sentence if the bore lacks one of the valves, else nothing."""
    there = valve_numbers(spec)
    lacking = sorted(set(pressed) - set(there))
    if not lacking:
        return ""
    name = f'"{spec.title}"' if spec.title else "this bore"
    if not there:
        return f'{name} has no valves; expected "0"'
    return f'no valve {lacking[0]} on {name}; expected "0" or any of {", ".join(map(str, there))}'


def valve_length(spec: BoreFile, valves) -> float:
    """Tube in metres that a combination adds, no slide pulled."""
    return MM * sum(spec.valves.lengths_mm[v] for v in sorted(valve_set(spec, valves)))


def to_bore(
    spec: BoreFile,
    *,
    valves=frozenset(),
    tuning_slide_pull_mm: float = 0.0,
    first_slide_pull_mm: float = 0.0,
    third_slide_pull_mm: float = 0.0,
    slide_position: float = 1.0,
) -> Bore:
    """The bore in metres, with tube put in at the marks.

    A slide pulled by some mm adds twice that; the first and third valve slides count only while
    their valve is pressed.  Slide position p (1 to 7) adds (2^((p - 1)/12) - 1) times the
    length at position 1.  SceneError if the bore has no such valve or slide.
    """
    pressed = valve_set(spec, valves)
    added = {f"valve {v}": MM * spec.valves.lengths_mm[v] for v in pressed}
    for valve, pull in ((1, first_slide_pull_mm), (3, third_slide_pull_mm)):
        if pull and valve not in valve_numbers(spec):
            raise SceneError(f"slide of valve {valve} pulled, but {_name(spec)} has no such valve")
        if valve in pressed:
            added[f"valve {valve}"] += 2 * MM * pull
    if tuning_slide_pull_mm and not has_mark(spec, "tuning_slide"):
        raise SceneError(f"tuning slide pulled, but {_name(spec)} has none")
    added["tuning slide"] = 2 * MM * tuning_slide_pull_mm
    if slide_position == 1:
        return _assemble(spec, added)
    added["slide"] = slide_length(spec, slide_position, _assemble(spec, added).length)
    return _assemble(spec, added)


def slide_length(spec: BoreFile, position: float, length: float) -> float:
    """Tube in metres that a slide adds at `position` (1 to 7) to a bore of `length` metres."""
    if not has_mark(spec, "slide"):
        raise SceneError(f"slide position {position:g}, but {_name(spec)} has no slide")
    if not 1 <= position <= 7:
        raise SceneError(f"slide position {position:g}: expected a number from 1 to 7")
    extra = (2 ** ((position - 1) / 12) - 1) * length
    travel = spec.slide_travel_mm
    if travel is not None and extra / 2 > MM * travel:
        raise SceneError(
            f"slide position {position:g} needs {extra / 2 / MM:.0f} mm of slide; "
            f"{_name(spec)} has {travel:g} mm"
        )
    return extra


def _name(spec: BoreFile) -> str:
    return f'"{spec.title}"' if spec.title else "this bore"


def _assemble(spec: BoreFile, added: dict[str, float]) -> Bore:
    xs, radii, stretches, marks, at = [], [], [], [], 0.0
    for section in spec.section:
        if isinstance(section, Cylinder):
            x, radius, placed = _cylinder(section, added)
        else:
            (x, radius), placed = _curve(section), []
        xs.append(at + x)
        radii.append(radius)
        marks += [(name, at + place) for name, place in placed]
        start, at = at, at + float(x[-1])
        stretches.append(Stretch(section.label, start, at, section.shape))
    x, radius = np.concatenate(xs), np.concatenate(radii)
    # where two sections meet at one radius, one point is enough
    same = np.concatenate([[False], (np.diff(x) == 0) & (np.diff(radius) == 0)])
    x, radius = _narrowed(spec, x[~same], radius[~same])
    return Bore(x, radius, tuple(stretches), tuple(marks), spec.end, spec.title)


def _narrowed(spec: BoreFile, x, radius):
    """(x, radius) with mute and hand in the bell."""
    if spec.hand is not None:
        hand = spec.hand
        x, radius = obstacles.with_hand(
            x, radius, hand.open_percent / 100, MM * hand.depth_mm, MM * hand.length_mm
        )
    if spec.mute is not None:
        mute = spec.mute
        small, large = MM * mute.small_diameter_mm / 2, MM * mute.large_diameter_mm / 2
        x, radius = obstacles.with_mute(
            x, radius, MM * mute.length_mm, small, large, MM * mute.cork_mm
        )
    return x, radius


def _inserts(section: Cylinder, added: dict[str, float]) -> list[Insert]:
    half = 0.5 * MM * section.length_mm
    places = [(f"valve {valve}", MM * place) for valve, place in section.valves]
    places += [("tuning slide", half)] * section.tuning_slide + [("slide", half)] * section.slide
    return [Insert(m, at, added.get(m, 0.0)) for m, at in sorted(places, key=lambda p: p[1])]


def _cylinder(section: Cylinder, added: dict[str, float]):
    """Points of the cylinder, and its marks at the start of the tube put in."""
    put_in, marks = 0.0, []
    x = [0.0]
    for insert in _inserts(section, added):
        start = insert.at + put_in
        marks.append((insert.mark, start))
        put_in += insert.length
        if insert.length:
            x += [start, start + insert.length]
    x.append(MM * section.length_mm + put_in)
    x = np.unique(x)
    return x, np.full(len(x), MM * section.diameter_mm / 2), marks


def _curve(section):
    """(x, radius) in metres of a section without marks."""
    if isinstance(section, Points):
        x, diameter = MM * np.array(section.points_mm).T
        return x, diameter / 2
    if isinstance(section, Mouthpiece):
        return _mouthpiece(section)
    length, start, end = (
        MM * v
        for v in (section.length_mm, section.start_diameter_mm / 2, section.end_diameter_mm / 2)
    )
    if section.shape == "bessel":
        return shapes.bessel(length, start, end, section.flare)
    if section.shape == "exponential":
        return shapes.exponential(length, start, end)
    return np.array([0.0, length]), np.array([start, end])


def _mouthpiece(section: Mouthpiece):
    throat = MM * section.throat_diameter_mm / 2
    x, radius = shapes.cup(
        MM * section.rim_diameter_mm / 2,
        throat,
        MM * section.cup_depth_mm,
        1e-6 * section.cup_volume_ml,
    )
    throat_end = x[-1] + MM * section.throat_length_mm
    ends = [throat_end] if section.throat_length_mm else []
    ends.append(throat_end + MM * section.backbore_length_mm)
    backbore_end = MM * section.backbore_end_diameter_mm / 2
    wide = [throat] * (len(ends) - 1) + [backbore_end]
    return np.concatenate([x, ends]), np.concatenate([radius, wide])


def parts(spec: BoreFile) -> tuple[str, ...]:
    """The exchangeable parts that the bore has, from the lip end."""
    return tuple(p for p in PARTS if any(s.label == p for s in spec.section))


def without_part(spec: BoreFile, part: str) -> BoreFile:
    """The bore without its "mouthpiece", "leadpipe" or "bell"; SceneError if it has none."""
    _check_part(spec, part)
    return _with_sections(spec, tuple(s for s in spec.section if s.label != part))


def with_part(spec: BoreFile, part: str, other: BoreFile | str) -> BoreFile:
    """The bore with all sections of `other` in place of its `part`; "none" takes it away.

    A mouthpiece may be put in front of a bore that has none.  A bell brings its `end`, a
    mouthpiece its `player`, if the part's file names one.
    """
    if other == "none":
        return without_part(spec, part)
    if valve_numbers(other):
        raise SceneError(f"the {part} {_name(other)} has valves; expected a part without")
    brings = {"bell": "end", "mouthpiece": "player"}.get(part)
    changes = {brings: getattr(other, brings)} if brings in other.model_fields_set else {}
    new = tuple(s.model_copy(update={"name": part}) for s in other.section)
    if part == "mouthpiece" and part not in parts(spec):
        return _with_sections(spec, new + spec.section, **changes)
    _check_part(spec, part)
    first = next(i for i, s in enumerate(spec.section) if s.label == part)
    after = tuple(s for s in spec.section[first:] if s.label != part)
    return _with_sections(spec, spec.section[:first] + new + after, **changes)


def with_obstacle(spec: BoreFile, kind: str, table) -> BoreFile:
    """The bore with a "mute" or "hand" of a table as in its file; unchanged without a good one.

    SceneError where it does not go in.
    """
    try:
        thing = OBSTACLES[kind].model_validate(table)
    except ValidationError:  # none, or told by the key's own type
        return spec
    changed = spec.model_copy(update={kind: thing})
    to_bore(changed)
    return changed


def _check_part(spec: BoreFile, part: str):
    if part not in PARTS:
        raise SceneError(f"{part}: expected {one_of(PARTS)}")
    if part not in parts(spec):
        has = ", ".join(parts(spec)) or "none of its parts can be changed"
        raise SceneError(f"{_name(spec)} has no {part}; it has: {has}")


def _with_sections(spec: BoreFile, sections: tuple, **changes) -> BoreFile:
    """`spec` with other sections; a valve whose place is gone goes too."""
    if not sections:
        raise SceneError(f"nothing would be left of {_name(spec)}")
    placed = {v for s in sections if isinstance(s, Cylinder) for v, _ in s.valves}
    lengths = spec.valves.lengths_mm
    kept = Valves(**{f"{ORDINALS[v - 1]}_mm": lengths[v] for v in lengths if v in placed})
    return spec.model_copy(update={"section": sections, "valves": kept, **changes})


def read_bore(path) -> Bore:
    """The bore of a bore file: no valve pressed, no slide pulled.  SceneError if it is bad."""
    return to_bore(read_bore_file(path))


def junctions(bore: Bore) -> list[str]:
    """Sentences about sudden changes of diameter over 2 %."""
    return [
        f"sudden change from {2 * before / MM:.1f} to {2 * after / MM:.1f} mm at {x / MM:.0f} mm: "
        "allowed; the model leaves out the extra inertance of the step"
        for x, before, after in bore.steps
        if max(before, after) / min(before, after) - 1 > STEP_TOLD
    ]
