"""TOML text to tables, with one sentence when it is none."""

import re
import tomllib

from lipmodel.errors import SceneError
from lipmodel.files.paths import LARGEST_FILE, read_bytes

DEEPEST = 20  # tables in tables; a scene has five
# a key of 200 dots: one of thousands would take the reader of TOML hours
CHAIN = re.compile(r"""(?<![\w-])(?:(?:[\w-]++|"[^"\n]*+"|'[^'\n]*+')[ \t]*+\.[ \t]*+){200}""")


def load(path) -> dict:
    """The tables of a TOML file; SceneError, one line naming the file, if that fails."""
    data = read_bytes(path, LARGEST_FILE, "a TOML file")
    try:
        # -sig: some editors put a byte order mark first
        written = data.decode("utf-8-sig")
        if CHAIN.search(written):
            raise RecursionError
        tables = tomllib.loads(written)
        _refuse_deep(tables)
    except UnicodeDecodeError as error:
        raise SceneError(f"{path}: not UTF-8 text at byte {error.start + 1}") from error
    except tomllib.TOMLDecodeError as error:
        raise SceneError(f"{path}: not TOML {_at_line(str(error))}") from error
    except RecursionError as error:
        raise SceneError(f"{path}: not TOML: nested too deeply") from error
    except ValueError as error:
        told = "a whole number of thousands of digits"
        raise SceneError(f"{path}: not TOML: {told}") from error
    return tables


def _refuse_deep(tables):
    """RecursionError where tables or lists lie more than DEEPEST deep in each other."""
    level = [tables]
    for _ in range(DEEPEST):
        inner = [v for x in level for v in (x.values() if isinstance(x, dict) else x)]
        level = [v for v in inner if isinstance(v, dict | list)]
        if not level:
            return
    raise RecursionError


def _at_line(message: str) -> str:
    match = re.fullmatch(r"(.*) \(at (?:line (\d+), column \d+|end of document)\)", message, re.S)
    if not match:
        return f": {message}"
    what = match[1][:1].lower() + match[1][1:]
    return f"at line {match[2]}: {what}" if match[2] else f"at the end of the file: {what}"
