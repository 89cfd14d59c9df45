"""A result: a document of plain data, its sentences and its picture."""

from collections.abc import Mapping
from copy import deepcopy
from pathlib import Path

import numpy as np

FEW = 3  # keys of a record that its repr shows


class Record(Mapping):
    """A row of a result: a read-only mapping whose keys are attributes too."""

    __slots__ = ("_data",)

    def __init__(self, data: dict):
        object.__setattr__(self, "_data", {key: frozen(value) for key, value in data.items()})

    def __getitem__(self, key):
        return self._data[key]

    def __iter__(self):
        return iter(self._data)

    def __len__(self):
        return len(self._data)

    def __getattr__(self, name):
        try:
            return self._data[name]
        except KeyError:
            known = ", ".join(map(str, self._data))
            raise AttributeError(f"no {name!r} here; there are {known}") from None

    def __setattr__(self, name, value):
        raise AttributeError(f"{name}: a result is read-only")

    def __getstate__(self):
        return self._data

    def __setstate__(self, data):
        object.__setattr__(self, "_data", data)

    def __repr__(self):
        shown = [f"{k}={_short(v)}" for k, v in list(self._data.items())[:FEW]]
        more = ", ..." if len(self._data) > FEW else ""
        return f"{type(self).__name__}({', '.join(shown)}{more})"


class Result(Record):
    """A study's result.  The keys of its JSON are attributes: lists of rows as tuples of records,
    numbers as read-only arrays (nan where JSON has null)."""

    __slots__ = ("_document", "_draw", "_sentences")

    def __init__(self, document: dict, draw, sentences=()):
        super().__init__(document)
        object.__setattr__(self, "_document", deepcopy(document))
        object.__setattr__(self, "_draw", draw)
        object.__setattr__(self, "_sentences", tuple(sentences))

    @property
    def sentences(self) -> tuple[str, ...]:
        """What was found, in words."""
        return self._sentences

    def to_dict(self) -> dict:
        """The JSON of the command, as a dict of its own."""
        return deepcopy(self._document)

    def figure(self):
        """The picture as a matplotlib Figure."""
        return self._draw(self)

    def __getstate__(self):
        return self._data, self._document, self._draw, self._sentences

    def __setstate__(self, state):
        for name, value in zip(("_data", "_document", "_draw", "_sentences"), state, strict=True):
            object.__setattr__(self, name, value)

    def __repr__(self):
        shown = [f"{key}: {_size(value)}" for key, value in self._data.items()]
        return f"{type(self).__name__}({', '.join(shown)})"


def frozen(value):
    """Plain data as records, tuples and read-only arrays."""
    if isinstance(value, dict):
        return Record(value)
    if isinstance(value, list | tuple):
        if value and all(v is None or isinstance(v, float | int) for v in value):
            return _array(value)
        return tuple(frozen(v) for v in value)
    return _array(value) if isinstance(value, np.ndarray) else value


def _array(values):
    numbers = [np.nan if v is None else v for v in values] if isinstance(values, list) else values
    array = np.array(numbers)
    array.flags.writeable = False
    return array


def _short(value) -> str:
    return _size(value) if isinstance(value, Mapping | tuple | np.ndarray) else repr(value)


def _size(value) -> str:
    if isinstance(value, np.ndarray):
        return f"array {value.shape}"
    if isinstance(value, tuple):
        return f"{len(value)} rows"
    return "record" if isinstance(value, Mapping) else repr(value)


def title_of(scene) -> str:
    """What a picture of a scene is headed with."""
    return scene.title or Path(scene.path).stem
