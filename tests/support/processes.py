"""`lipmodel` in processes of its own: started, waited for, and what they leave looked through."""

import contextlib
import errno
import functools
import hashlib
import json
import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pytest

from lipmodel.files import atomic
from lipmodel.files.cache import read_checked

GROUPS: list[int] = []  # of the processes that this test has started
PATIENCE = 180.0  # s
ROOT = Path(__file__).resolve().parents[2]
NOTE = """
[instrument]
name = "pipe"
[player]
pressure_kpa = 8.0
tension_hz = 300.0
[sound]
length_s = 0.1
"""
MAP = """
[map]
tension_hz = [200, 520]
pressure_kpa = [1.5, 8]
columns = 24
rows = 4
note_s = 0.2
"""
VARIANT = """
[[variant]]
name = "cold"
air.temperature_c = 5.0
"""
LESSON = 'title = "The Wednesday brass class"\nscenes = ["note.toml", "walk.toml"]\n'
TAKE = {"sound.wav", "listen.html", "picture.png", "traces.npz", "report.json"}
CHART = {"picture.png", "map.json", "map.csv"}
RENDER = ("render", "note.toml")
WALK = ("map", "walk.toml", "--workers", "2")
TEACH = ("lesson", "lesson.toml", "--workers", "2")
SWEPT = ("slots", "note.toml")


@pytest.fixture
def place(tmp_path):
    """A folder with scenes to work in."""
    return furnished(tmp_path)


def furnished(place: Path) -> Path:
    texts = {"note": NOTE, "walk": NOTE + MAP, "lesson": LESSON, "two": NOTE + VARIANT}
    for name, text in texts.items():
        (place / f"{name}.toml").write_text(text, encoding="utf-8")
    (place / "tmp").mkdir()
    return place


def started(
    place: Path, argv, stdout=subprocess.PIPE, stderr=subprocess.PIPE, env=(),
    stdin=subprocess.DEVNULL, **more,
):  # fmt: skip
    """`lipmodel` at work in `place`, in a process group of its own."""
    known = {**os.environ, "PYTHONPATH": str(ROOT), "TMPDIR": str(place / "tmp")}
    known |= {"PYTHONUNBUFFERED": "", **dict(env)}
    process = subprocess.Popen(
        [sys.executable, "-m", "lipmodel", *argv],
        cwd=place, env=known, text=True, stdin=stdin, stdout=stdout, stderr=stderr,
        start_new_session=True, **more,
    )  # fmt: skip
    GROUPS.append(process.pid)
    return process


@pytest.fixture(autouse=True)
def nothing_runs_on():
    """What a test that failed has started ends with it."""
    yield
    while GROUPS:
        if living(group := GROUPS.pop()):
            os.killpg(group, signal.SIGKILL)


def ran(place: Path, *argv, **more) -> tuple[int, str, str]:
    """Exit code, standard output and error (`without_news`) of a whole run."""
    process = started(place, argv, **more)
    said, complained = process.communicate(timeout=PATIENCE)
    return process.returncode, said, without_news(complained)


def without_news(told: str | None) -> str | None:
    """Standard error but for the line of a first run."""
    return told and re.sub(r"^compiling the time loop, .*\n", "", told)


def wait_until(holds, what: str):
    end = time.monotonic() + PATIENCE
    while not holds():
        assert time.monotonic() < end, f"waited in vain: {what}"
        time.sleep(0.005)


def living(group: int) -> list[str]:
    """Commands of the processes of a group that still run."""
    found = []
    for folder in Path("/proc").glob("[0-9]*"):
        with contextlib.suppress(OSError):
            state, _, its_group = (folder / "stat").read_text().rpartition(")")[2].split()[:3]
            if int(its_group) == group and state not in "ZX":
                found.append((folder / "cmdline").read_bytes().replace(b"\0", b" ").decode())
    return found


def answers_signals(process) -> bool:
    """Whether it has got as far as to answer SIGTERM itself."""
    with contextlib.suppress(OSError):
        status = Path(f"/proc/{process.pid}/status").read_text()
        caught = re.search(r"SigCgt:\s*(\w+)", status)
        return process.poll() is not None or bool(
            caught and int(caught[1], 16) >> (signal.SIGTERM - 1) & 1
        )
    return process.poll() is not None


@functools.cache
def length_of(argv) -> float:
    """Seconds that an undisturbed run takes, everything compiled and kept."""
    with TemporaryDirectory() as folder:
        place = furnished(Path(folder))
        assert ran(place, *argv)[0] == 0
        began = time.monotonic()
        assert ran(place, *argv)[0] == 0
        return time.monotonic() - began


def listed(folder: Path) -> list[str]:
    return sorted(p.name for p in folder.iterdir()) if folder.is_dir() else []


def hidden(folder: Path) -> list[str]:
    return [name for name in listed(folder) if name.startswith(".")]


def assert_whole(renders: Path):
    """Whatever has its final name is complete; all else is a hidden folder or file aside."""
    for name in listed(renders):
        path = renders / name
        if name.startswith("."):
            assert atomic.MARK in name
        elif name.startswith("note-slots"):
            assert set(listed(path)) == {"picture.png", "slots.json", "sweep.csv"}
            assert json.loads((path / "slots.json").read_text("utf-8"))["sweep"]
        elif name.startswith("note"):
            assert set(listed(path)) == TAKE
            report = json.loads((path / "report.json").read_text("utf-8"))
            sound = (path / "sound.wav").read_bytes()
            assert report["sha256"] == hashlib.sha256(sound).hexdigest()
            with np.load(path / "traces.npz") as traces:
                assert {len(traces[k]) for k in traces.files} == {4800}
            assert (path / "listen.html").read_text("utf-8").rstrip().endswith("</html>")
            assert (path / "picture.png").read_bytes().endswith(b"IEND\xaeB`\x82")
        elif name.endswith(".partial.npz"):
            assert read_checked(path)["done"].any()
        elif name.startswith("walk-map"):
            assert set(listed(path)) == CHART
            assert len(json.loads((path / "map.json").read_text("utf-8"))["state"]) == 4
            assert len((path / "map.csv").read_text().splitlines()) == 1 + 24 * 4
        else:
            assert name == "lesson.html"
            assert path.read_text("utf-8").rstrip().endswith("</html>")


def assert_cleared(place: Path):
    """No names aside, neither beside the results nor among the scratch files."""
    assert hidden(place / "renders") == []
    assert hidden(place / "tmp") == []


def refuse(*args, **kwargs):
    raise OSError(errno.ENOSPC, "No space left on device")
