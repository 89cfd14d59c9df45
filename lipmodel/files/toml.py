"""TOML text to tables, with one sentence when it is none."""

import re
import tomllib

from lipmodel.errors import SceneError
from lipmodel.files import toml_slips
from lipmodel.files.paths import LARGEST_FILE, read_bytes

DEEPEST = 20  # tables in tables; a scene has five
# a key of 200 dots: one of thousands would take the reader of TOML hours
CHAIN = re.compile(r"""(?<![\w-])(?:(?:[\w-]++|"[^"\n]*+"|'[^'\n]*+')[ \t]*+\.[ \t]*+){200}""")


def load(path) -> dict:
    """The tables of a TOML file; SceneError, a line naming the file and the place, if that
    fails; the line of the file itself and a caret may follow."""
    data = read_bytes(path, LARGEST_FILE, "a TOML file")
    try:
        # -sig: some editors put a byte order mark first
        written = data.decode("utf-8-sig")
        if CHAIN.search(written):
            raise RecursionError
        tables = tomllib.loads(written)
        _refuse_deep(tables)
    except UnicodeDecodeError as error:
        raise SceneError(toml_slips.not_text(path, data, error)) from error
    except tomllib.TOMLDecodeError as error:
        raise SceneError(toml_slips.not_toml(path, written, error)) from error
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
