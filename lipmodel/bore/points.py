"""Diameter over distance as a list of points, in a bore file or in a CSV file beside it."""

import csv
from pathlib import Path

from pydantic import ValidationError

from lipmodel.errors import SceneError
from lipmodel.files import schema
from lipmodel.files.paths import LARGEST_FILE, read_bytes
from lipmodel.files.schema import Problem

MOST_POINTS = 10_000


def check_points(value):
    """Diameter over x: pairs, x from 0, never falling; the same x twice is a step."""
    if not isinstance(value, list) or not 2 <= len(value) <= MOST_POINTS:
        raise ValueError
    found, before = [], []
    for i, pair in enumerate(value):
        if not isinstance(pair, list) or len(pair) != 2:
            found.append(Problem((i,), pair, "expected [x, diameter]"))
            continue
        x, diameter = pair
        if not (schema.is_number(x) and 0 <= x <= 20_000):
            found.append(Problem((i, 0), x, "expected a number from 0 to 20000 mm"))
        else:
            told = _x_order(x, before)
            found += [Problem((i, 0), x, told)] if told else []
            before.append(x)
        if not (schema.is_number(diameter) and 0.5 <= diameter <= 2000):
            found.append(Problem((i, 1), diameter, "expected a number from 0.5 to 2000 mm"))
    if not found and not before[-1] > 0:
        found.append(Problem((len(value) - 1, 0), before[-1], "expected more than 0 mm at the end"))
    if found:
        schema.raise_problems(*found)
    return tuple((float(x), float(d)) for x, d in value)


def _x_order(x, before: list) -> str:
    if not before:
        return "" if x == 0 else "expected 0: the points start at the section's start"
    if x < before[-1]:
        return f"expected {before[-1]:g} mm or more: x never falls"
    if before[-2:] == [x, x]:
        return f"expected more than {x:g} mm: at most two points at one place"
    return ""


def read_profile(path: Path, told_as) -> list[list[float]]:
    """[[x, diameter], ...] of a CSV file with the header x_mm,diameter_mm."""

    def stop(told):
        schema.raise_problems(Problem(("file",), None, f"{told_as}: {told}", "whole"))

    try:
        written = read_bytes(path, LARGEST_FILE, "a table of two columns").decode("utf-8-sig")
        lines = list(csv.reader(written.splitlines()))
    except SceneError as error:
        stop(str(error).removeprefix(f"{path}: "))
    except (UnicodeDecodeError, csv.Error):
        stop("cannot be read; expected a UTF-8 text with the header x_mm,diameter_mm")
    if not lines or [c.strip() for c in lines[0]] != ["x_mm", "diameter_mm"]:
        stop("line 1: expected the header x_mm,diameter_mm")
    points = []
    for i, line in enumerate(lines[1:], 2):
        if not any(cell.strip() for cell in line):
            continue
        try:
            x, diameter = (float(cell) for cell in line)
        except ValueError:
            stop(f"line {i}: expected two numbers, x_mm,diameter_mm")
        points.append([x, diameter])
    try:
        check_points(points)
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        stop(f"point {first['loc'][0] + 1}: {schema.quoted(first['input'])}: {first['msg']}")
    except ValueError:
        stop("expected at least two points")
    return points
