"""TOML files to checked values: the only home of tomllib, and of the words for what is wrong.

A table of a file is a `Table`; the type of a key comes from a factory such as
`number(0, 40, "kPa")`, which holds range and unit once.  Whatever is wrong becomes one sentence
with file, key, value and what is allowed; `problems` returns them all, in the order of the file.
"""

import difflib
import json
import re
from dataclasses import dataclass
from typing import Annotated, Any, NamedTuple

from pydantic import BaseModel, BeforeValidator, ConfigDict, ValidationError, model_validator
from pydantic_core import InitErrorDetails, PydanticCustomError

from lipmodel.files.paths import FileContext

LONGEST_SHOWN = 40  # letters of a value in a sentence
MOST_KEYS_SHOWN = 12
MOST_KEYS = 200  # of a table; the largest has twenty
MOST_TOLD = 50  # problems of one file
NOTHING = object()  # stands for "no value to show"


class Problem(NamedTuple):
    """One problem: `loc` below the table that reports it, the value, what is allowed.

    kind "value" shows the value, "plain" does not, "whole" is a finished sentence.
    """

    loc: tuple
    value: Any
    text: str
    kind: str = "value"


@dataclass(frozen=True, slots=True)
class Expected:
    """What a key may hold, in words; `expected` and this make the sentence."""

    text: str


def raise_problems(*found: Problem):
    """Raise these problems, from inside a validator, for `problems` to tell."""
    details = [
        InitErrorDetails(type=PydanticCustomError(f.kind, f.text), loc=f.loc, input=f.value)
        for f in found
    ]
    raise ValidationError.from_exception_data("file", details)


def _type(base, check, expected: str):
    def checked(value):
        try:
            return check(value)
        except ValidationError:  # `check` has told its own problems; it is a ValueError too
            raise
        except ValueError as error:
            raise_problems(Problem((), value, str(error) or f"expected {expected}"))

    return Annotated[base, BeforeValidator(checked), Expected(expected)]


def is_number(value) -> bool:
    """True for a finite TOML number; true and false are none."""
    # a whole number of hundreds of digits is no float
    return type(value) in (int, float) and abs(value) < 1e300


def range_text(low, high, unit: str = "", noun: str = "a number") -> str:
    """ "a number from 0 to 40 kPa"."""
    return f"{noun} from {low:.10g} to {high:.10g} {unit}".rstrip()


def number(low: float, high: float, unit: str = ""):
    """Type of a finite number from `low` to `high`, both allowed."""

    def check(value):
        if not (is_number(value) and low <= value <= high):
            raise ValueError
        return float(value)

    return _type(float, check, range_text(low, high, unit))


def whole(low: int, high: int, unit: str = ""):
    """Type of a whole number from `low` to `high`."""

    def check(value):
        if type(value) is not int or not low <= value <= high:
            raise ValueError
        return value

    return _type(int, check, range_text(low, high, unit, "a whole number"))


def choice(*words: str):
    """Type of a text that is one of `words`."""

    def check(value):
        if value not in words or not isinstance(value, str):
            raise ValueError(f"expected {one_of(words)}{did_you_mean(value, words)}")
        return value

    return _type(str, check, one_of(words))


def text(longest: int = 2000):
    """Type of a text of up to `longest` letters."""

    def check(value):
        if not isinstance(value, str) or len(value) > longest:
            raise ValueError
        return value

    return _type(str, check, f"a text of up to {longest} letters")


def yes_no():
    """Type of true or false."""

    def check(value):
        if not isinstance(value, bool):
            raise ValueError
        return value

    return _type(bool, check, "true or false")


def listed(item, most: int, noun: str):
    """Type of a list of up to `most` values of the type `item`, counted before any is looked at;
    "expected up to 40 `noun`"."""

    def check(value):
        if isinstance(value, list) and len(value) > most:
            raise_problems(
                Problem((), None, f"expected up to {most} {noun}, found {len(value)}", "plain")
            )
        return value

    return Annotated[tuple[item, ...], BeforeValidator(check)]


def parsed(base, check, expected: str):
    """Type of whatever `check(value)` returns; its ValueError may carry a sentence."""
    return _type(base, check, expected)


def one_of(words) -> str:
    """ "one of a, b, c", or "a" alone."""
    words = list(words)
    return f"one of {', '.join(words)}" if len(words) > 1 else f'"{words[0]}"'


def did_you_mean(value, words) -> str:
    """ "; did you mean mouthpiece?" or nothing."""
    if not isinstance(value, str) or len(value) <= 3:  # too short to guess from
        return ""
    near = difflib.get_close_matches(str(value).lower(), [w.lower() for w in words], 1)
    by_lower = {w.lower(): w for w in words}
    return f"; did you mean {by_lower[near[0]]}?" if near else ""


class Table(BaseModel):
    """A table of a file.  Unknown keys are refused; the value cannot be changed."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    @classmethod
    def complete(cls, data: dict) -> dict:
        """Hook: `data` with defaults that depend on other keys, before it is checked."""
        return data

    @classmethod
    def rules(cls, data: dict, place: FileContext | None) -> list[Problem]:
        """Hook: problems between keys.  `data` is as written: a key may be absent or wrong."""
        return []

    @classmethod
    def finish(cls, value):
        """Hook: the checked value with what only then can be known."""
        return value

    @model_validator(mode="wrap")
    @classmethod
    def _told(cls, data, handler, info):
        if isinstance(data, cls):
            return handler(data)
        if not isinstance(data, dict):
            raise_problems(Problem((), data, "expected a table"))
        if len(data) > MOST_KEYS:  # each would be told by itself
            raise_problems(
                Problem((), None, f"{len(data)} keys; expected up to {MOST_KEYS}", "plain")
            )
        details, value = [], None
        try:
            value = handler(cls.complete(data))
        except ValidationError as error:
            details = [cls._own_words(e) for e in error.errors(include_url=False)]
        more = cls.rules(data, info.context)
        if not (details or more):
            return cls.finish(value)
        try:
            raise_problems(*more)
        except ValidationError as error:
            details += [_again(e) for e in error.errors(include_url=False)]
        raise ValidationError.from_exception_data("file", details)

    @classmethod
    def _own_words(cls, error: dict):
        """The library's own problems in our words: missing, unknown, not a list."""
        if error["type"] == "missing" and len(error["loc"]) == 1:
            field = cls.model_fields[error["loc"][-1]]
            words = [m.text for m in field.metadata if isinstance(m, Expected)]
            told = f"missing; expected {words[0]}" if words else "missing"
            return _detail(error, "plain", told)
        if error["type"] == "extra_forbidden":
            return _detail(error, "unknown", "unknown key", {"keys": list(cls.keys())})
        if error["type"] in ("tuple_type", "list_type"):
            return _detail(error, "value", "expected a list")
        return _again(error)

    @classmethod
    def keys(cls) -> list[str]:
        """Names of the keys that the table may hold."""
        return list(cls.model_fields)


def _detail(error: dict, kind: str, told: str, ctx: dict | None = None) -> InitErrorDetails:
    told_as = PydanticCustomError(kind, told, ctx)
    return InitErrorDetails(type=told_as, loc=error["loc"], input=error["input"])


def _again(error: dict) -> InitErrorDetails:
    return _detail(error, error["type"], error["msg"], error.get("ctx"))


def problems(error: ValidationError, path, data: dict, label: str = "") -> list[str]:
    """Every problem as a sentence, in the order of `data`, up to MOST_TOLD; `label` comes after
    the file's name."""
    places = {}
    found = error.errors(include_url=False)
    found.sort(key=lambda e: _position(e["loc"], data, places))
    # some are the same; more than twice as many as are told need no words
    told = dict.fromkeys(_sentence(e, f"{path}: {label}") for e in found[: 2 * MOST_TOLD])
    return capped([*told], path, len(found) > 2 * MOST_TOLD)


def capped(told: list[str], path, more=False) -> list[str]:
    """`told`, up to MOST_TOLD sentences and one that there are `more`."""
    more = more or len(told) > MOST_TOLD
    return told[:MOST_TOLD] + [f"{path}: and more problems; mend these first"] * more


def _sentence(error: dict, start: str) -> str:
    if error["type"] == "whole":
        return error["msg"]
    where = dotted(error["loc"])
    if error["type"] == "unknown":
        return f"{start}{where}: unknown key; {_known(error)}"
    if error["type"] == "plain" or not where:
        return f"{start}{where}: {error['msg']}" if where else f"{start}{error['msg']}"
    return f"{start}{where} = {quoted(error['input'])}: {error['msg']}"


def _known(error: dict) -> str:
    *above, key = error["loc"]
    keys = error["ctx"]["keys"]
    near = difflib.get_close_matches(str(key).lower(), keys, 1)
    if near:
        return f"did you mean {dotted((*above, near[0]))}?"
    return f"expected {one_of(keys[:MOST_KEYS_SHOWN])}{', ...' * (len(keys) > MOST_KEYS_SHOWN)}"


def _position(loc: tuple, data, places: dict) -> tuple:
    """Where a problem stands in the file: keys by their order, absent ones last.

    `places` keeps the order of each table between calls.
    """
    at = []
    for step in loc:
        if isinstance(data, dict):
            if id(data) not in places:
                places[id(data)] = {key: i for i, key in enumerate(data)}
            order = places[id(data)]
            at.append(order.get(step, len(order)))
            data = data.get(step)
        else:
            at.append(step if isinstance(step, int) else 0)
            inside = isinstance(data, list) and isinstance(step, int) and step < len(data)
            data = data[step] if inside else None
    return tuple(at)


def dotted(loc) -> str:
    """A key as the file writes it; list items count from 1: player.phrase[2].note."""
    written = ""
    for step in loc:
        if isinstance(step, int):
            written += f"[{step + 1}]"
        else:
            bare = re.fullmatch(r"[A-Za-z0-9_-]+", step) and len(step) <= LONGEST_SHOWN
            written += "." * bool(written) + (step if bare else quoted(step))
    return written


def quoted(value) -> str:
    """A value as TOML writes it, shortened."""
    if value is NOTHING:
        return "nothing"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        short = value if len(value) <= LONGEST_SHOWN else value[: LONGEST_SHOWN - 3] + "..."
        written = json.dumps(short, ensure_ascii=False)
        # no sign that moves the cursor or turns the line round
        return "".join(c if c.isprintable() else f"\\u{ord(c):04x}" for c in written)
    if isinstance(value, list | tuple):
        return _short("[" + ", ".join(quoted(v) for v in value[:20]), "]")
    if isinstance(value, dict):
        inner = (f"{dotted((k,))} = {quoted(v)}" for k, v in list(value.items())[:20])
        return _short("{ " + ", ".join(inner), " }")
    if isinstance(value, int) and abs(value) >= 10**LONGEST_SHOWN:
        return "a number of more than 40 digits"
    return str(value)


def _short(written: str, close: str) -> str:
    if len(written) <= LONGEST_SHOWN:
        return written + close
    return written[: LONGEST_SHOWN - 3] + "..." + close
