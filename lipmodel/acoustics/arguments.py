"""Arguments of the air column's functions: a bore, an air, and numbers of any shape."""

from functools import wraps

import numpy as np

from lipmodel.bore.geometry import Bore


def check(function: str, bore, air):
    """TypeError, with the way out, where there is no bore or no air."""
    if not isinstance(bore, Bore):
        way = f"instrument({bore!r})" if isinstance(bore, str) else "Bore.from_points(x, radius)"
        raise TypeError(f"{function}: bore = {_short(bore)}: expected a Bore; {way} gives one")
    if not hasattr(air, "along"):
        number = isinstance(air, int | float)
        way = f"Air.at({air!r})" if number else "Air.at(celsius)"
        raise TypeError(f"{function}: air = {_short(air)}: expected an Air; {way} gives one")


def checked(function):
    """`function(bore, air, ...)` with both checked first."""

    @wraps(function)
    def call(bore, air, *args, **kwargs):
        check(function.__name__, bore, air)
        return function(bore, air, *args, **kwargs)

    return call


def of_frequency(function):
    """`function(bore, air, frequency, ...)`, checked, whose answer has the shape of `frequency`:
    a number for a number."""

    @wraps(function)
    def call(bore, air, frequency, *args, **kwargs):
        check(function.__name__, bore, air)
        shape = np.shape(frequency)
        if len(shape) == 1:
            return function(bore, air, frequency, *args, **kwargs)
        answer = function(bore, air, np.ravel(frequency), *args, **kwargs)
        return answer.reshape(shape)[()]

    return call


def _short(value) -> str:
    text = repr(value)
    return text if len(text) <= 40 else f"{text[:40]}..."
