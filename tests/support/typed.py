"""Whether plain data is of a type: TypedDicts, lists, dicts, unions, numbers, strings."""

import types
from typing import Union, get_args, get_origin, get_type_hints, is_typeddict


def misfits(value, kind, where="report") -> list[str]:
    """Where `value` is not of `kind`, each place in words."""
    if is_typeddict(kind):
        return _table(value, kind, where)
    outer, inside = get_origin(kind), get_args(kind)
    if outer in (Union, types.UnionType):
        tries = [misfits(value, one, where) for one in inside]
        return min(tries, key=len)
    if outer is list and isinstance(value, list):
        return [m for i, v in enumerate(value) for m in misfits(v, inside[0], f"{where}[{i}]")]
    if outer is dict and isinstance(value, dict):
        return [m for k, v in value.items() for m in misfits(v, inside[1], f"{where}.{k}")]
    plain = (int, float) if kind is float else outer or kind
    fits = isinstance(value, plain) and (kind is bool or not isinstance(value, bool))
    return [] if fits else [f"{where} = {value!r} is no {kind}"]


def _table(value, kind, where):
    if not isinstance(value, dict):
        return [f"{where} = {value!r} is no {kind.__name__}"]
    known = get_type_hints(kind)
    found = [f"{where}.{k} is missing" for k in sorted(kind.__required_keys__ - value.keys())]
    found += [f"{where}.{k} is not in {kind.__name__}" for k in sorted(value.keys() - known.keys())]
    both = [k for k in value if k in known]
    return found + [m for k in both for m in misfits(value[k], known[k], f"{where}.{k}")]
