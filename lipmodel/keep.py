"""Results that take long, kept between runs: fitted ladders and resonances of a bore.

Files lie in the user's cache folder, named by a digest of everything that goes in, the source of
this package's own physics too.  A cache that cannot be read or written is only slower.
"""

import contextlib
import hashlib
import io
import os
import tempfile
from functools import cache
from pathlib import Path
from zipfile import BadZipFile

import numpy as np

MOST_FILES = 300
SOURCES = ("air.py", "bore.py", "cells.py", "waveguide.py", "fit.py", "loop_arrays.py")
SOURCES += ("steepening.py", "sound.py", "listener.py", "acoustics")


def folder() -> Path:
    """Where results are kept; LIPMODEL_CACHE overrides the user's cache folder."""
    given = os.environ.get("LIPMODEL_CACHE")
    base = os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache"
    return Path(given) if given else Path(base) / "lipmodel"


@cache
def _source_digest() -> bytes:
    here, digest = Path(__file__).parent, hashlib.sha256()
    for name in SOURCES:
        path = here / name
        for file in sorted(path.glob("*.py")) if path.is_dir() else [path]:
            digest.update(file.read_bytes())
    digest.update(np.__version__.encode())
    return digest.digest()


def key_of(kind: str, bore, air, *numbers) -> str:
    """Digest of a bore (x, radius, end, where its mouthpiece ends), an air and some numbers."""
    digest = hashlib.sha256(_source_digest())
    digest.update(bore.x.tobytes() + bore.radius.tobytes())
    digest.update(repr((kind, bore.end, bore.mouthpiece_end, air, numbers)).encode())
    return f"{kind}-{digest.hexdigest()[:32]}"


def recall(key: str) -> dict | None:
    """The arrays kept under `key`, or None."""
    path = folder() / f"{key}.npz"
    try:
        # read whole first: numpy leaves a damaged file open
        with np.load(io.BytesIO(path.read_bytes()), allow_pickle=False) as file:
            return dict(file)
    except (OSError, ValueError, EOFError, BadZipFile, KeyError):
        return None


def keep(key: str, arrays: dict):
    """Keep arrays under `key`; the oldest make room."""
    with contextlib.suppress(OSError):
        here = folder()
        here.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(prefix=".", suffix=".npz", dir=here)
        with os.fdopen(handle, "wb") as file:
            np.savez(file, **arrays)
        os.replace(name, here / f"{key}.npz")
        known = sorted(here.glob("*.npz"), key=lambda p: p.stat().st_mtime)
        for old in known[:-MOST_FILES]:
            old.unlink(missing_ok=True)
