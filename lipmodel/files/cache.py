"""Results that take long, kept between runs: fitted ladders and resonances of a bore.

Files lie in the user's cache folder, named by a digest of everything that goes in, the source of
this package's own physics too.  Each begins with a digest of the rest of it: what is damaged is
worked out anew.  A cache that cannot be read or written is only slower.
"""

import contextlib
import hashlib
import io
import os
from functools import cache
from pathlib import Path

import numpy as np
import platformdirs

from lipmodel.files.atomic import write_atomic

MOST_FILES = 2000
DIGEST = 32  # bytes of SHA-256
SOURCES = (
    "air.py", "lips.py", "bore", "acoustics", "waveguide", "sound", "analysis",
    "player/short_note.py", "player/resting.py",
)  # fmt: skip


def folder() -> Path:
    """Where results are kept; LIPMODEL_CACHE overrides the user's cache folder.  OSError for a
    user without a home."""
    given = os.environ.get("LIPMODEL_CACHE")
    if given:
        return Path(given)
    path = platformdirs.user_cache_path("lipmodel", appauthor=False)
    if not path.is_absolute():  # "~", which nobody has resolved
        raise FileNotFoundError("no home folder")
    return path


@cache
def _source_digest() -> bytes:
    here, digest = Path(__file__).parents[1], hashlib.sha256()
    for name in SOURCES:
        path = here / name
        for file in sorted(path.rglob("*.py")) if path.is_dir() else [path]:
            digest.update(file.read_bytes())
    digest.update(np.__version__.encode())
    return digest.digest()


def key_of(kind: str, bore, air, *numbers) -> str:
    """Digest of a bore (x, radius, end, where its mouthpiece ends), an air and some numbers."""
    digest = hashlib.sha256(_source_digest())
    digest.update(bore.x.tobytes() + bore.radius.tobytes())
    digest.update(repr((kind, bore.end, bore.mouthpiece_end, air, numbers)).encode())
    return f"{kind}-{digest.hexdigest()[:32]}"


def cached(key: str, make, apart=lambda value: value, together=lambda arrays: arrays):
    """What `make()` returns, kept under `key` as the dict of arrays that `apart` makes of it and
    `together` puts together again."""
    arrays = load(key)
    if arrays is not None:
        with contextlib.suppress(LookupError, TypeError, ValueError):  # of another form: made anew
            return together(arrays)
    value = make()
    store(key, apart(value))
    return value


def load(key: str) -> dict | None:
    """The arrays kept under `key`, or None."""
    with contextlib.suppress(OSError):
        return read_checked(folder() / f"{key}.npz")
    return None


def read_checked(path: Path) -> dict | None:
    """The arrays that `with_checksum` made the bytes of, if this file holds just those."""
    try:
        data = path.read_bytes()
    except OSError:
        return None
    head, body = data[:DIGEST], data[DIGEST:]
    if head != hashlib.sha256(body).digest():
        return None
    with np.load(io.BytesIO(body), allow_pickle=False) as file:
        return dict(file)


def with_checksum(arrays: dict) -> bytes:
    """Arrays as an npz file behind its own digest."""
    out = io.BytesIO()
    np.savez(out, **arrays)
    body = out.getvalue()
    return hashlib.sha256(body).digest() + body


def store(key: str, arrays: dict):
    """Keep arrays under `key`; the oldest make room."""
    with contextlib.suppress(OSError):
        here = folder()
        here.mkdir(parents=True, exist_ok=True)
        write_atomic(here / f"{key}.npz", with_checksum(arrays), "kept")
        known = sorted(here.glob("*.npz"), key=lambda p: p.stat().st_mtime)
        for old in known[:-MOST_FILES]:
            old.unlink(missing_ok=True)
