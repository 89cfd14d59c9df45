"""The only writer: folders that are complete or absent."""

import hashlib
import io
import json
import os
import shutil
import tempfile
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import soundfile

from lipmodel.errors import SceneError

PREVIOUS = ".previous"
# first part of the names of the files that are written here
OURS = {
    "sound",
    "pair",
    "bores",
    "energy",
    "pedal",
    "mirror",
    "dynamics",
    "field",
    "echo",
    "chart",
    "why",
    "listen",
    "picture",
    "traces",
    "report",
    "impedance",
    "resonances",
    "slots",
    "sweep",
    "map",
    "as_held",
    "remedy",
    "compare",
    "blind",
}
CSV_RATE = 1000  # Hz, of the thinned table


@contextmanager
def folder_written(target: Path):
    """A folder to fill; renamed to `target` when all went well, removed when not.

    What was there before is kept as `NAME.previous`.  SceneError names what could not be written.
    """
    target = Path(target)
    work = None
    try:
        refuse_to_replace(target)
        target.parent.mkdir(parents=True, exist_ok=True)
        work = Path(tempfile.mkdtemp(prefix=f".{target.name}.", dir=target.parent))
        work.chmod(0o755)
        yield work
        _put_in_place(work, target)
        work = None
    except OSError as error:
        raise SceneError(_told(target, error)) from error
    finally:
        if work is not None:
            shutil.rmtree(work, ignore_errors=True)


def refuse_to_replace(target: Path):
    """SceneError where the folder holds what was not written here: it would be lost with the
    take after next."""
    here = Path.cwd()
    if Path(os.path.realpath(target)) in (here, *here.parents):
        raise SceneError(f"{target}: holds the folder you are in; expected the name of a new one")
    for folder in (target, target.with_name(target.name + PREVIOUS)):
        if not os.path.isdir(folder):
            continue
        foreign = sorted(p.name for p in folder.iterdir() if p.name.split(".")[0] not in OURS)
        if foreign:
            raise SceneError(
                f"{folder}: holds other files ({foreign[0]}); expected a new folder or one that "
                "lipmodel wrote"
            )


def _put_in_place(work: Path, target: Path):
    previous = target.with_name(target.name + PREVIOUS)
    if target.is_dir():
        shutil.rmtree(previous, ignore_errors=True)
        os.rename(target, previous)
    os.rename(work, target)


def _told(target, error: OSError) -> str:
    reason = error.strerror or str(error)
    return f"{target}: cannot be written ({reason}); nothing was left half-written"


def write_bytes(path: Path, data: bytes):
    """A single file, complete or absent."""
    path = Path(path)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(data)
            os.chmod(name, 0o644)
            os.replace(name, path)
        except BaseException:
            os.unlink(name)
            raise
    except OSError as error:
        raise SceneError(_told(path, error)) from error


def sound_bytes(samples, rate, kind="wav") -> bytes:
    """Samples (-1 to 1, one channel) as 24-bit WAV, 16-bit FLAC, OGG Vorbis or MP3; "flac24" is
    the WAV without loss."""
    subtype = {"ogg": "VORBIS", "mp3": "MPEG_LAYER_III", "flac": "PCM_16"}.get(kind, "PCM_24")
    out, form = io.BytesIO(), kind.upper().removesuffix("24")
    try:
        soundfile.write(out, samples, int(rate), format=form, subtype=subtype)
    except soundfile.LibsndfileError as error:
        more = " or rate_hz = 48000, 44100, 32000" if kind == "mp3" else ""
        raise SceneError(
            f'sound.also: "{kind}" cannot be written at {rate:g} Hz; expected another kind{more}'
        ) from error
    return out.getvalue()


def read_sound(path: Path) -> tuple[np.ndarray, int]:
    """Samples of the first channel, shape (n,), and their rate in Hz."""
    samples, rate = soundfile.read(path, always_2d=True)
    return samples[:, 0], rate


def digest(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def json_text(value) -> str:
    return json.dumps(value, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def compact_json(value) -> str:
    """JSON without blanks, for a file that a program reads."""
    return json.dumps(value, separators=(",", ":"), ensure_ascii=False, allow_nan=False) + "\n"


def save_traces(path: Path, traces: dict):
    with open(path, "wb") as file:
        np.savez(file, **traces)


def traces_csv(traces: dict, rate, full=False) -> str:
    """The traces as CSV text, thinned to 1 kHz unless `full`."""
    step = 1 if full else max(1, round(rate / CSV_RATE))
    names = list(traces)
    columns = np.column_stack([traces[n][::step] for n in names])
    out = io.StringIO()
    np.savetxt(out, columns, fmt="%.8g", delimiter=",", header=",".join(names), comments="")
    return out.getvalue()


def columns_csv(columns: dict) -> str:
    """Equal columns as CSV text."""
    out = io.StringIO()
    table = np.column_stack(list(columns.values()))
    np.savetxt(out, table, fmt="%.8g", delimiter=",", header=",".join(columns), comments="")
    return out.getvalue()
