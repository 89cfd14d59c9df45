"""Spelling of valves, tube that valves and slide add."""

from lipmodel.bore.bore_file import BoreFile
from lipmodel.errors import SceneError
from lipmodel.units import MM


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


def slide_length(spec: BoreFile, position: float, length: float) -> float:
    """Tube in metres that a slide adds at `position` (1 to 7) to a bore of `length` metres."""
    if not has_mark(spec, "slide"):
        raise SceneError(f"slide position {position:g}, but {title_of(spec)} has no slide")
    if not 1 <= position <= 7:
        raise SceneError(f"slide position {position:g}: expected a number from 1 to 7")
    extra = (2 ** ((position - 1) / 12) - 1) * length
    travel = spec.slide_travel_mm
    if travel is not None and extra / 2 > MM * travel:
        raise SceneError(
            f"slide position {position:g} needs {extra / 2 / MM:.0f} mm of slide; "
            f"{title_of(spec)} has {travel:g} mm"
        )
    return extra


def title_of(spec: BoreFile) -> str:
    return f'"{spec.title}"' if spec.title else "this bore"
