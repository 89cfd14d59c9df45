"""The [[variant]] tables of a scene file: one cause at a time, as changes to the file's tables."""

import re
import unicodedata

from lipmodel.files import schema

MOST_VARIANTS = 50
AS_WRITTEN = "as written"
LONGEST_SLUG = 60
# in a variant, one of these takes the place of the others
EITHER = {
    "": (("player", "source"),),
    "instrument": (("name", "bore"),),
    "mouth": (
        ("vowel", "resonance_hz"),
        ("vowel", "volume_ml", "peak_pa_s_m3"),
        ("glottis_pa_s_m3", "quality"),
    ),
    "player": (
        ("tension_hz", "tune", "phrase"),
        ("pressure_kpa", "dynamic"),
        ("steadiness", "flutter_percent"),
    ),
}


def slug(written: str) -> str:
    """A folder name: small letters and digits joined by "-"; "" if nothing is left."""
    plain = unicodedata.normalize("NFKD", written.casefold())
    plain = "".join(c for c in plain if not unicodedata.combining(c))
    return re.sub(r"[\W_]+", "-", plain)[:LONGEST_SLUG].strip("-")


def merge(data: dict, change: dict, table: str = "") -> dict:
    """`data` with the keys of `change` in place of its own, table by table."""
    merged = dict(data)
    for key, value in change.items():
        for group in EITHER.get(table, ()):
            if key in group:
                merged = {k: v for k, v in merged.items() if k not in group or k in change}
        if isinstance(value, dict) and isinstance(merged.get(key), dict):
            value = merge(merged[key], value, key)
        merged[key] = value
    return merged


def replaced(data: dict, changes: dict) -> dict:
    """`data` with the value at each dotted key ("player.tension_hz") in place of its own, as a
    file would write it; None takes the key out."""
    change: dict = {}
    for key, value in changes.items():
        *above, last = key.split(".")
        data = _without(data, (*above, last))
        if value is None:
            continue
        table = change
        for name in above:
            table = table.setdefault(name, {})
        table[last] = as_written(value)
    return merge(data, change)


def _without(table: dict, loc: tuple) -> dict:
    key, *below = loc
    if not below:
        return {k: v for k, v in table.items() if k != key}
    inner = table.get(key)
    return {**table, key: _without(inner, below)} if isinstance(inner, dict) else table


def as_written(value):
    """A value as a file holds it: lists for tuples and arrays, plain numbers; a copy."""
    if isinstance(value, dict):
        return {str(key): as_written(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [as_written(inner) for inner in value]
    return value.tolist() if hasattr(value, "tolist") else value  # of numpy


def variant_changes(variants) -> tuple[list[tuple[str, dict]], list[str]]:
    """(name, change) of each good [[variant]], and what is wrong with the others."""
    if not isinstance(variants, list) or not all(isinstance(v, dict) for v in variants):
        return [], ["variant: expected tables [[variant]]"]
    if len(variants) > MOST_VARIANTS:
        return [], [f"variant: expected up to {MOST_VARIANTS} tables [[variant]]"]
    changes, told, taken = [], [], {slug(AS_WRITTEN): AS_WRITTEN}
    for i, variant in enumerate(variants, 1):
        change = dict(variant)
        name = change.pop("name", None)
        problem = _name_problem(name, taken)
        if problem:
            shown = "" if name is None else f" = {schema.quoted(name)}"
            told.append(f"variant[{i}].name{shown}: {problem}")
        else:
            taken[slug(name)] = name
            changes.append((name, change))
    return changes, told


def _name_problem(name, taken: dict) -> str:
    words = "a text of up to 60 letters that names the variant's folder"
    if name is None:
        return f"missing; expected {words}"
    if not isinstance(name, str) or len(name) > LONGEST_SLUG or not slug(name):
        return f"expected {words}"
    if slug(name) in taken:
        return f"expected another name: the folder of {schema.quoted(taken[slug(name)])} is taken"
    return ""


def changed(before: dict, after: dict, change: dict) -> tuple[str, ...]:
    """Sentences about the keys of `change`: "instrument.bell: as written -> none".

    `before` and `after` are the inputs of both scenes, every default filled in.
    """
    sentences, told = [], set()
    for loc in dict.fromkeys(_whole(loc, before) for loc in _leaves(change)):
        old, new, other = _at(before, loc), _at(after, loc), None
        if old is None and len(loc) > 1:  # name instead of bore, tune instead of tension
            rivals = _rivals(loc)
            others = {r: _at(before, r) for r in rivals}
            rival = next((r for r in rivals if others[r] is not None), None)
            old, told, other = others.get(rival), told | {rival}, rival
        if _are_notes(old) and _are_notes(new) and len(old) == len(new):
            sentences += _notes_changed(old, new)
        elif old != new:
            was = "none" if old is None and isinstance(new, dict) else _words(old)
            if other and type(old) in (int, float) and type(new) in (int, float):
                was = f"{other[-1]} {was}"  # another thing's number
            sentences.append(f"{schema.dotted(loc)}: {was} -> {_words(new)}")
    return (*sentences, *_left_out(before, after, change, told))


def _rivals(loc: tuple) -> list[tuple]:
    """Places that what stands at `loc` takes."""
    *above, key = loc
    groups = EITHER.get(".".join(above), ())
    return [(*above, k) for group in groups if key in group for k in group if k != key]


def _left_out(before, after, change, told) -> list[str]:
    """What is gone because something else of `change` has its place, and is not told with that."""
    tops = dict.fromkeys(loc[:n] for loc in _leaves(change) for n in (1, 2))
    gone = dict.fromkeys(r for loc in tops for r in _rivals(loc) if r not in told)
    return [
        f"{schema.dotted(r)}: {'left out' if len(r) == 1 else f'{_words(_at(before, r))} -> none'}"
        for r in gone
        if _at(before, r) is not None and _at(after, r) is None
    ]


def _are_notes(value) -> bool:
    rows = value if isinstance(value, list | tuple) else ()
    return bool(rows) and all(isinstance(row, dict) for row in rows)


def _notes_changed(old, new) -> list[str]:
    """What is different in a phrase of as many notes, key by key: "note 1, valves: 2 -> 0"."""
    return [
        f"note {number}, {key}: {_words(a.get(key))} -> {_words(b.get(key))}"
        for number, (a, b) in enumerate(zip(old, new, strict=True), 1)
        for key in dict.fromkeys([*a, *b])
        if a.get(key) != b.get(key)
    ]


def _leaves(table: dict, above: tuple = ()):
    for key, value in table.items():
        if isinstance(value, dict):
            yield from _leaves(value, (*above, key))
        else:
            yield (*above, key)


def _whole(loc: tuple, before: dict) -> tuple:
    """The table that `loc` lies in, where the scene had none, or a name: a mute is told as one
    thing, and so is a room."""
    if _at(before, loc[:1]) is None:
        return loc[:1]
    inside = isinstance(_at(before, loc[:2]), dict)
    return loc[:2] if len(loc) == 3 and not inside else loc


def _at(table: dict, loc: tuple):
    for key in loc:
        table = table.get(key) if isinstance(table, dict) else None
    return table


def _words(value) -> str:
    if value is None:
        return AS_WRITTEN
    if type(value) in (int, float):
        return f"{value:.10g}"
    if _are_notes(value):
        return f"the notes {' '.join(str(row.get('note')) for row in value)}"
    if isinstance(value, dict):
        value = {k: v for k, v in value.items() if v is not None}
        return ", ".join(f"{key} {_words(inner)}" for key, inner in value.items())
    if isinstance(value, str):
        return value if len(value) <= schema.LONGEST_SHOWN else schema.quoted(value)[1:-1]
    return schema.quoted(value)
