"""Good files made bad: one change of the text, or a few, drawn by hypothesis."""

import re

from hypothesis import strategies as st

ODD_VALUES = (
    "-1", "0", "1e308", "-1e308", "1e999", "nan", "inf", "-inf", "99999999999999999999",
    "0x" + "f" * 400, "1" * 400, '"loud"', '""', '"\\u0000"', '"\\u202e\\u2028\\u009b"', "true",
    "'../../etc/hosts'", "1979-05-27", "07:32:00", "1979-05-27T07:32:00Z", "[]", "[[]]", "{}",
    "{ a = { b = [1, { c = 2 }] } }", "[[0, 1], [0, 1]]", "[[nan, nan]]", "[1, [2, [3, [4]]]]",
    '"' + "x" * 20_000 + '"', "[" * 30 + "]" * 30, "[" + "[1, 2], " * 11_000 + "]",
    "[" + "0, " * 100_000 + "]", '"C4 1"', '"H4"', "5e-324", "-0.0",
)  # fmt: skip
ODD_BYTES = (
    b"\0", b"\x07", b"\x1b[31m", b"\xe9", b"\xff\xfe", b"\xef\xbb\xbf", b"\r", b"\r\n",
    "\u202e\u2028".encode(), b'"', b"'", b"[", b"]", b"=", b"#", b"{", b"}", b",", b".", b"\\",
    b'"""', b"a." * 300,
)  # fmt: skip
NUMBER = re.compile(rb"-?\d+(?:\.\d+)?")


def _lines(data: bytes) -> list[bytes]:
    return data.split(b"\n")


def _deleted(draw, data):
    lines = _lines(data)
    del lines[draw(st.integers(0, len(lines) - 1))]
    return b"\n".join(lines)


def _doubled(draw, data):
    lines = _lines(data)
    at = draw(st.integers(0, len(lines) - 1))
    return b"\n".join([*lines[: at + 1], *lines[at:]])


def _swapped(draw, data):
    lines = _lines(data)
    a, b = (draw(st.integers(0, len(lines) - 1)) for _ in "ab")
    lines[a], lines[b] = lines[b], lines[a]
    return b"\n".join(lines)


def _another_value(draw, data):
    """The value of one key = value, or JSON "key": value, or one number, is an odd one."""
    numbers = [m.span() for m in NUMBER.finditer(data)]
    values = [m.span(1) for m in re.finditer(rb'(?:=|":) *([^\n]+?),?(?=\n|$)', data)]
    spans = draw(st.sampled_from([s for s in (numbers, values) if s] or [[(0, 0)]]))
    a, b = draw(st.sampled_from(spans))
    return data[:a] + draw(st.sampled_from(ODD_VALUES)).encode() + data[b:]


def _cut_off(draw, data):
    return data[: draw(st.integers(0, len(data)))]


def _put_in(draw, data):
    at = draw(st.integers(0, len(data)))
    return data[:at] + draw(st.sampled_from(ODD_BYTES)) + data[at:]


def _mark_first(draw, data):
    return draw(st.sampled_from([b"\xef\xbb\xbf", b"\xff\xfe", b"\xef\xbb\xbf" * 2])) + data


def _another_key(draw, data):
    """A key, or a table, has another name."""
    names = sorted(set(re.findall(rb"[a-z_]{3,}", data)))
    old, new = draw(st.sampled_from(names or [b"x"])), draw(st.sampled_from([*names, b"x" * 3000]))
    return data.replace(old, new, draw(st.integers(1, 3)))


def _as_latin(draw, data):
    text = data.decode("utf-8", "replace").replace("e", "\xe9", draw(st.integers(1, 4)))
    return text.encode("latin-1", "replace")


CHANGES = (
    _deleted, _doubled, _swapped, _another_value, _another_value, _another_value, _cut_off, _put_in,
    _mark_first, _another_key, _as_latin,
)  # fmt: skip


@st.composite
def mutated(draw, good: dict):
    """(name, bytes) of one of the `good` files with one to three changes."""
    name = draw(st.sampled_from(sorted(good)))
    data = good[name]
    for _ in range(draw(st.integers(1, 3))):
        data = draw(st.sampled_from(CHANGES))(draw, data)
    return name, data
