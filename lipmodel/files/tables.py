"""JSON, CSV, npz and digests."""

import hashlib
import io
import json
import zipfile
from pathlib import Path

import numpy as np

from lipmodel.files.long_arrays import PIECE, pieces

CSV_RATE = 1000  # Hz, of the thinned table


def digest(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def digest_of(path: Path) -> str:
    """SHA-256 of a plain file of any size, a piece at a time; OSError for anything else."""
    if not path.is_file():
        raise FileNotFoundError(path)
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def json_text(value) -> str:
    return json.dumps(value, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def compact_json(value) -> str:
    """JSON without blanks, for a file that a program reads."""
    return json.dumps(value, separators=(",", ":"), ensure_ascii=False, allow_nan=False) + "\n"


def save_traces(path: Path, traces: dict):
    """The traces as `numpy.load` reads them, a piece at a time."""
    with zipfile.ZipFile(path, "w", zipfile.ZIP_STORED) as archive:
        for name, trace in traces.items():
            head = {"descr": "<f8", "fortran_order": False, "shape": (len(trace),)}
            with archive.open(f"{name}.npy", "w", force_zip64=True) as file:
                np.lib.format.write_array_header_1_0(file, head)
                for part in pieces(len(trace)):
                    file.write(np.ascontiguousarray(trace[part], "<f8").data)


def write_traces_csv(out, traces: dict, rate, full=False):
    """The traces as CSV into an open file, thinned to 1 kHz unless `full`."""
    step = 1 if full else max(1, round(rate / CSV_RATE))
    out.write((",".join(traces) + "\n").encode())
    for part in pieces(len(traces["time_s"]), step * (PIECE // step)):
        columns = np.column_stack([trace[part][::step] for trace in traces.values()])
        np.savetxt(out, columns, fmt="%.8g", delimiter=",")


def columns_csv(columns: dict) -> str:
    """Equal columns as CSV text."""
    out = io.StringIO()
    table = np.column_stack(list(columns.values()))
    np.savetxt(out, table, fmt="%.8g", delimiter=",", header=",".join(columns), comments="")
    return out.getvalue()
