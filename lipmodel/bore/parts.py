"""Mouthpiece, leadpipe, bell exchanged."""

from pydantic import ValidationError

from lipmodel.bore.assembly import to_bore
from lipmodel.bore.bore_file import ORDINALS, BoreFile, Hand, Mute
from lipmodel.bore.sections import Cylinder
from lipmodel.bore.valves import title_of, valve_numbers
from lipmodel.errors import SceneError
from lipmodel.files.schema import one_of

PARTS = ("mouthpiece", "leadpipe", "bell")
OBSTACLES = {"mute": Mute, "hand": Hand}


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
        raise SceneError(f"the {part} {title_of(other)} has valves; expected a part without")
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
        raise SceneError(f"{title_of(spec)} has no {part}; it has: {has}")


def _with_sections(spec: BoreFile, sections: tuple, **changes) -> BoreFile:
    """`spec` with other sections; a valve whose place is gone goes too."""
    if not sections:
        raise SceneError(f"nothing would be left of {title_of(spec)}")
    placed = {v for s in sections if isinstance(s, Cylinder) for v, _ in s.valves}
    lengths = spec.valves.lengths_mm
    gone = {f"{ORDINALS[v - 1]}_mm": None for v in lengths if v not in placed}
    kept = spec.valves.model_copy(update=gone)
    return spec.model_copy(update={"section": sections, "valves": kept, **changes})
