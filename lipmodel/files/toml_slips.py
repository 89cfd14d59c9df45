"""Where a file stops being TOML: the line, a caret under the place, and the cure for the usual
slips.  A cure is only offered where the file, mended so, can be read beyond that line."""

import re
import tomllib
from itertools import islice

LONGEST_LINE = 72  # letters shown of a line
LONGEST_CURED = 2000  # letters of a line for which a cure is looked for
LARGEST_CURED = 200_000  # letters of such a file: it is read again for every guess
MOST_GUESSES = 12
CURLY = "“”„‟‘’‚‛«»‹›`´″"
STRAIGHT = str.maketrans(dict.fromkeys(CURLY, '"'))
BLANKS = dict.fromkeys("\u00a0\u2007\u2009\u202f\u200b\ufeff\u3000", " ")
DASHES = dict.fromkeys("\u2010\u2011\u2012\u2013\u2014\u2212", "-")
NOTE = re.compile(r"[A-Ha-h](?:[b♭#♯]|is|es|s)?-?\d(?![\w#])")
WORD = re.compile(r"""[^\W\d_][^"'#,=\[\]{}]*""")
NUMBERS = (  # what is found around the place, what is meant, the cure
    (re.compile(r"(?<!\d)\d+,\d+"), lambda m: m[0].replace(",", "."), "{}, with a point"),
    (
        re.compile(r"(?<![\d.])\d+\.(?!\d)"),
        lambda m: m[0] + "0",
        "{}, with a digit after the point",
    ),
    (re.compile(r"(?<![\d.])\.\d+"), lambda m: "0" + m[0], "{}, with a digit before the point"),
    (re.compile(r"(?<![\d.])0+[1-9][\d.]*"), lambda m: m[0].lstrip("0"), "{}, without a 0 before"),
    (
        re.compile(r"(?<![\w.])(\d[\d.]*) *[a-zµ%°][a-zµ%°/]*", re.I),
        lambda m: m[1],
        "{}, without the unit: the key names it",
    ),
)
WORDS = {"yes": "true", "True": "true", "on": "true", "no": "false", "False": "false"}
OPEN = re.compile(r"""^[^'"#]*=\s*'[^']*$""")
PLACE = re.compile(r"(.*) \(at (?:line (\d+), column (\d+)|end of document)\)", re.S)


def not_text(path, data: bytes, error: UnicodeDecodeError) -> str:
    """Sentence and excerpt for a file that is no UTF-8."""
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return _of_two_bytes(path, data[:400].decode("utf-16", "replace"))
    begin = data.rfind(b"\n", 0, error.start) + 1
    good = data[begin : error.start].decode("utf-8-sig", "replace")
    rest = data[error.start :].split(b"\n", 1)[0].decode("cp1252", "replace")
    letter = data[error.start : error.start + 1].decode("cp1252", "replace")
    other = f' ("{letter}" of Windows-1252)' if letter.isprintable() and letter != "\ufffd" else ""
    number = data.count(b"\n", 0, error.start) + 1
    what = f"not UTF-8 text at byte {error.start + 1}{other}; save the file as UTF-8"
    return _told(path, number, what, good + rest, len(good))


def _of_two_bytes(path, first: str) -> str:
    return _told(path, 1, "UTF-16 text; save the file as UTF-8", first.split("\n")[0], 0)


def not_toml(path, text: str, error: tomllib.TOMLDecodeError) -> str:
    """Sentence and excerpt for text that is no TOML, with the cure where there is one."""
    if text[:2].count("\0") == 1:  # without a mark, every other byte is nought
        return _of_two_bytes(path, text[:400].replace("\0", ""))
    lines = text.replace("\r\n", "\n").split("\n")
    what, number, column = _place(str(error), lines)
    if number is None:
        return f"{path}: not TOML: {what}"
    line = lines[number - 1]
    cured = len(text) <= LARGEST_CURED and len(line) <= LONGEST_CURED
    for at, mended, cure in islice(_cures(line, column), MOST_GUESSES * cured):
        if _reads_on(lines, number, mended):
            return _told(path, number, f"not TOML; {cure}", line, at)
    ending = " at the end of the file" * str(error).endswith("(at end of document)")
    return _told(path, number, f"not TOML{ending}: {what}", line, column)


def _place(message: str, lines: list[str]):
    """What the reader says, the line's number from 1 and the column from 0."""
    match = PLACE.fullmatch(message)
    if not match:
        return message, None, 0
    what = match[1][:1].lower() + match[1][1:]
    if match[2]:
        return what, int(match[2]), int(match[3]) - 1
    last = max((i for i, line in enumerate(lines) if line.strip()), default=0)
    if what == """expected "'\"""":  # a line with one quote: the reader looks for the other one
        last = max((i for i, line in enumerate(lines) if OPEN.search(line)), default=last)
    return what, last + 1, len(lines[last].rstrip())


def _reads_on(lines: list[str], number: int, mended: str) -> bool:
    """Whether the file can be read beyond line `number`, written so."""
    try:
        tomllib.loads("\n".join([*lines[: number - 1], mended, *lines[number:]]))
    except tomllib.TOMLDecodeError as error:
        match = PLACE.fullmatch(str(error))
        return bool(match) and (int(match[2]) if match[2] else len(lines)) > number
    except (RecursionError, ValueError):
        return False
    return True


def _cures(line: str, column: int):
    """(column, line as meant, cure) of each slip that the line may hold."""
    yield from _signs(line)
    yield from _quoted(line, column)
    yield from _numbers(line)
    for sign, told in ((":", 'write "=" after the key'), ("=", "put the text in quotes")):
        key, found, value = line.partition(sign)
        value = value.split(" #")[0].strip()
        if found and value and "=" not in key:
            for meant in (value, f'"{value}"'):
                mended = f"{key.rstrip()} = {meant}"
                at = len(key) if sign == ":" else line.index(value, len(key))
                yield at, mended, f"{told}: {_shown(mended)}"
    if "\\" in line:
        mended = line.replace("\\", "/")
        yield line.index("\\"), mended, f'write "/" in a path: {_shown(mended)}'


def _signs(line: str):
    """Signs that word processors put in the place of those on the keys."""
    for at, sign in enumerate(line):
        if sign in CURLY:
            mended = line.translate(STRAIGHT)
            yield at, mended, f"use straight quotes: {_shown(mended)}"
            break
    for signs, name in ((BLANKS, "a plain space"), (DASHES, "the plain minus")):
        at = next((i for i, sign in enumerate(line) if sign in signs), None)
        if at is not None:
            mended = line.translate(str.maketrans(signs))
            yield at, mended, f"write {name} there: {_shown(mended)}"


def _quoted(line: str, column: int):
    """Words without quotes, or with one."""
    before, rest = line[:column], line[column:]
    if found := NOTE.match(rest) or WORD.match(rest):
        word = found[0].rstrip()
        after = rest[len(word) :]
        what = "note" if NOTE.fullmatch(word) else "text"
        if word in WORDS:
            mended = f"{before}{WORDS[word]}{after}"
            yield column, mended, f'write "{WORDS[word]}": {_shown(mended)}'
        if after[:1] in ('"', "'") and after:
            mended = f"{before}{after[0]}{rest}"
            yield column, mended, f"the opening quote is missing: {_shown(mended)}"
        mended = f'{before}"{word}"{after}'
        yield column, mended, f"put the {what} in quotes: {_shown(mended)}"
    opened = re.search(r"""=\s*(["'])""", line)
    if opened and column >= len(line.rstrip()):
        parts = re.split(r"(\s+#.*)", line.rstrip(), maxsplit=1)
        for text, comment in ((parts[0], "".join(parts[1:])), (line.rstrip(), "")):
            mended = f"{text}{opened[1]}{comment}"
            yield len(text), mended, f"the closing quote is missing: {_shown(mended)}"


def _numbers(line: str):
    for pattern, meant, cure in NUMBERS:
        for found in pattern.finditer(line):
            mended = line[: found.start()] + meant(found) + line[found.end() :]
            yield found.start(), mended, f"write {cure.format(meant(found))}"


def _shown(line: str) -> str:
    """A line on one line of a terminal."""
    plain = "".join(c if c.isprintable() else " " if c.isspace() else "?" for c in line)
    return plain.strip() if len(plain) <= LONGEST_LINE else plain.strip()[:LONGEST_LINE] + "..."


def _told(path, number: int, what: str, line: str, column: int) -> str:
    plain = "".join(c if c.isprintable() else " " if c.isspace() else "?" for c in line)
    begin = 0 if len(plain) <= LONGEST_LINE else max(0, column - LONGEST_LINE // 2)
    part = plain[begin : begin + LONGEST_LINE].rstrip()
    return f"{path}:{number}: {what}\n    {part}\n    {' ' * (column - begin)}^"
