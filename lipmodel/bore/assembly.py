"""Bore files: read and checked, their parts changed, and made into a `Bore` in metres."""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from lipmodel.bore import obstacles, shapes
from lipmodel.bore.bore_file import BoreFile, read_bore_file
from lipmodel.bore.geometry import Bore
from lipmodel.bore.geometry import Section as Stretch
from lipmodel.bore.sections import Cylinder, Mouthpiece, Points, ends_mm
from lipmodel.bore.valves import has_mark, slide_length, title_of, valve_numbers, valve_set
from lipmodel.errors import SceneError
from lipmodel.units import MM

STEP_TOLD = 0.02  # of the diameter; smaller ones are within common workmanship


@dataclass(frozen=True, slots=True)
class Insert:
    """Tube put in at a mark: where from the section's start, and how much, metres."""

    mark: str
    at: float
    length: float


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

    A slide pulled by some mm adds twice that (a tuning slide pushed in, below 0, takes it away,
    as far as the bore file lets it); the first and third valve slides count only while
    their valve is pressed.  Slide position p (1 to 7) adds (2^((p - 1)/12) - 1) times the
    length at position 1.  SceneError if the bore has no such valve or slide.
    """
    pressed = valve_set(spec, valves)
    added = {f"valve {v}": MM * spec.valves.lengths_mm[v] for v in pressed}
    for valve, pull in ((1, first_slide_pull_mm), (3, third_slide_pull_mm)):
        if pull and valve not in valve_numbers(spec):
            raise SceneError(
                f"slide of valve {valve} pulled, but {title_of(spec)} has no such valve"
            )
        if valve in pressed:
            added[f"valve {valve}"] += 2 * MM * pull
    if tuning_slide_pull_mm and not has_mark(spec, "tuning_slide"):
        raise SceneError(f"tuning slide pulled, but {title_of(spec)} has none")
    if tuning_slide_pull_mm < -spec.tuning_slide_in_mm - 1e-9:
        raise SceneError(
            f"tuning slide {tuning_slide_pull_mm:g} mm, but that of {title_of(spec)} goes in by "
            f"{spec.tuning_slide_in_mm:g} mm: expected {-spec.tuning_slide_in_mm:g} mm or more"
        )
    added["tuning slide"] = 2 * MM * tuning_slide_pull_mm
    if slide_position == 1:
        return _assemble(spec, added)
    added["slide"] = slide_length(spec, slide_position, _assemble(spec, added).length)
    return _assemble(spec, added)


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
        if insert.length > 0:
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


def read_bore(path) -> Bore:
    """The bore of the bore file at `path`: no valve pressed, no slide pulled.

    Raises SceneError with every problem at once.

    >>> read_bore("hose.toml").length  # doctest: +SKIP
    """
    return to_bore(read_bore_file(path))


def narrow_bells(spec: BoreFile) -> list[str]:
    """Sentences about a section named bell, or a last one that is no cylinder, that ends narrower
    than the tube before it: a point that slipped."""
    found = []
    for i, (before, section) in enumerate(pairwise(spec.section), 2):
        last = i == len(spec.section) and section.shape != "cylinder"
        (start, end, key), wide = ends_mm(section), ends_mm(before)[1]
        wide = max(wide, start)
        if end < wide and (last or section.name == "bell"):
            ten = f"; {10 * end:.1f} mm?" if 10 * end > wide else ""
            found.append(
                f'section[{i}].{key} = {end:.10g} ("{section.label}"): narrower than the tube '
                f"before it, {wide:.10g} mm{ten}"
            )
    return found


def junctions(bore: Bore) -> list[str]:
    """Sentences about sudden changes of diameter over 2 %."""
    return [
        f"sudden change from {2 * before / MM:.1f} to {2 * after / MM:.1f} mm at {x / MM:.0f} mm: "
        "allowed; the model leaves out the extra inertance of the step"
        for x, before, after in bore.steps
        if max(before, after) / min(before, after) - 1 > STEP_TOLD
    ]
