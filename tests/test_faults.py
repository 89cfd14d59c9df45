"""Killed, stopped, out of room, in each other's way: what is left is whole, and is told in a line.

Moments are drawn with a seed, as parts of how long an undisturbed run takes here; nothing is
asserted about time.
"""

import contextlib
import errno
import fcntl
import functools
import hashlib
import importlib.util
import json
import os
import pty
import random
import re
import resource
import shutil
import signal
import subprocess
import sys
import termios
import time
import weakref
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pytest

from lipmodel.errors import SceneError
from lipmodel.files import atomic, cache, folders
from lipmodel.player.cached import kept_resonances
from lipmodel.system import signals

pytestmark = pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="needs /proc")
GROUPS: list[int] = []  # of the processes that this test has started
PATIENCE = 180.0  # s
ROOT = Path(__file__).resolve().parents[1]
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
STOPPED = "stopped; nothing was left half-written\n"


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
            assert cache.opened(path)["done"].any()
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


# what lies aside


def test_what_ended_processes_left_aside_is_cleared_away_and_nothing_else(tmp_path):
    left, theirs = tmp_path / ".take.lipmodel-abcd_123", tmp_path / ".take.lipmodel-held_234"
    for folder in (left, theirs):
        folder.mkdir()
        (folder / "sound.wav").write_bytes(b"half")
    (tmp_path / ".take.lipmodel-file_345").write_bytes(b"half")
    others = [".take.settings", ".take.lipmodel-longer_than", ".take2.lipmodel-abcd_123"]
    for name in others:
        (tmp_path / name).mkdir()
    holding = "import fcntl, os, sys; fcntl.flock(os.open(sys.argv[1], 0), 2); print(1); input()"
    with subprocess.Popen(
        [sys.executable, "-c", holding, str(theirs)], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    ) as holder:
        holder.stdout.readline()
        with folders.folder_written(tmp_path / "take") as work:
            (work / "sound.wav").write_bytes(b"whole")
        assert listed(tmp_path) == sorted([*others, theirs.name, "take"])
        assert (theirs / "sound.wav").read_bytes() == b"half"
        holder.communicate(b"\n")
    folders.write_bytes(tmp_path / "take" / "report.json", b"{}")
    with folders.folder_written(tmp_path / "take") as work:
        (work / "sound.wav").write_bytes(b"whole")
    assert listed(tmp_path) == sorted([*others, "take", "take.previous"])


@pytest.mark.parametrize("failing", [0, 1, 2])
def test_a_folder_that_cannot_be_put_in_place_leaves_both_takes(tmp_path, monkeypatch, failing):
    target = tmp_path / "take"
    for text in (b"first", b"second"):
        with folders.folder_written(target) as work:
            (work / "sound.wav").write_bytes(text)
    rename, calls = os.rename, []

    def some(old, new):
        calls.append(old)
        if len(calls) == failing + 1:
            raise OSError(errno.EIO, "Input/output error")
        rename(old, new)

    monkeypatch.setattr(os, "rename", some)
    with (
        pytest.raises(SceneError, match=r"take: cannot be written \(Input/output error\); nothing"),
        folders.folder_written(target) as work,
    ):
        (work / "sound.wav").write_bytes(b"third")
    assert (target / "sound.wav").read_bytes() == b"second"
    assert (tmp_path / "take.previous" / "sound.wav").read_bytes() == b"first"
    assert listed(tmp_path) == ["take", "take.previous"]


def test_processes_that_write_one_folder_at_once_leave_it_whole(tmp_path):
    """Three of them, 60 times each: with renames and no lock between them some fail."""
    code = (
        "import sys\nfrom pathlib import Path\nfrom lipmodel import files\n"
        "for n in range(60):\n"
        "    with files.folder_written(Path('take')) as work:\n"
        "        for name in ('sound.wav', 'report.json'):\n"
        "            (work / name).write_text(f'{sys.argv[1]} {n}')\n"
        "    files.write_bytes(Path('map.json'), b'whole' * 5000)\n"
    )
    env = {**os.environ, "PYTHONPATH": str(ROOT)}
    writers = [
        subprocess.Popen([sys.executable, "-c", code, who], cwd=tmp_path, env=env,
                         stderr=subprocess.PIPE, text=True)
        for who in "abc"
    ]  # fmt: skip
    while any(w.poll() is None for w in writers):
        with contextlib.suppress(FileNotFoundError):
            assert len((tmp_path / "map.json").read_bytes()) == 25_000
    assert [w.communicate(timeout=PATIENCE)[1] for w in writers] == ["", "", ""]
    for name in ("take", "take.previous"):
        texts = {(tmp_path / name / n).read_text() for n in ("sound.wav", "report.json")}
        assert len(texts) == 1
    assert (tmp_path / "map.json").read_bytes() == b"whole" * 5000
    assert listed(tmp_path) == ["map.json", "take", "take.previous"]


def test_a_file_that_cannot_be_put_in_place_leaves_the_one_before(tmp_path, monkeypatch):
    target = tmp_path / "lesson.html"
    folders.write_bytes(target, b"first")
    monkeypatch.setattr(os, "replace", refuse)
    with pytest.raises(SceneError, match=r"lesson\.html: cannot be written \(No space left"):
        folders.write_bytes(target, b"second")
    assert target.read_bytes() == b"first"
    assert listed(tmp_path) == ["lesson.html"]


def test_somebody_elses_lock_on_the_folder_only_delays(tmp_path, monkeypatch):
    monkeypatch.setattr(atomic, "PATIENCE", 0.05)
    handle = os.open(tmp_path, os.O_RDONLY)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX)
        with folders.folder_written(tmp_path / "take") as work:
            (work / "sound.wav").write_bytes(b"whole")
    finally:
        os.close(handle)
    assert listed(tmp_path) == ["take"]


# what is kept between runs


def test_a_kept_file_with_any_wrong_byte_is_not_used(tmp_path, monkeypatch):
    monkeypatch.setenv("LIPMODEL_CACHE", str(tmp_path))
    cache.keep("x", {"a": np.arange(40.0), "b": np.array("words")})
    path, draw = tmp_path / "x.npz", random.Random(2)
    whole = path.read_bytes()
    assert cache.recall("x")["a"].tolist() == list(range(40))
    for _ in range(300):
        damaged = bytearray(whole)
        damaged[draw.randrange(len(whole))] ^= 1 << draw.randrange(8)
        path.write_bytes(damaged[: draw.choice([len(whole), draw.randrange(len(whole))])])
        assert cache.recall("x") is None


@pytest.mark.parametrize(
    "arrays", [{}, {"rows": np.zeros((3, 2))}, {"rows": np.array(1.0)}], ids=str
)
def test_kept_arrays_of_another_form_are_made_anew(tmp_path, monkeypatch, arrays):
    from test_keep import AIR, FUNNEL

    monkeypatch.setenv("LIPMODEL_CACHE", str(tmp_path))
    right = kept_resonances(FUNNEL, AIR)
    (path,) = tmp_path.glob("resonances-*.npz")
    cache.keep(path.stem, arrays)
    assert kept_resonances(FUNNEL, AIR) == right
    assert cache.recall(path.stem)["rows"].shape == (len(right), 3)
    np.savez(path, **arrays)  # and without a digest
    assert kept_resonances(FUNNEL, AIR) == right


SUM = """
from lipmodel.compiling import compiled

@compiled(error_model="numpy")
def total(values):
    out = 0.0
    for value in values:
        out += FACTOR * value
    return out
"""


def summed(source: Path) -> tuple[float, int]:
    """The sum by a module loaded afresh, and how often it was taken from what numba kept."""
    spec = importlib.util.spec_from_file_location("summing", source)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    value = module.total(np.arange(10.0))
    return value, sum(module.total.stats.cache_hits.values())


@pytest.fixture
def compiled_at(tmp_path, monkeypatch):
    """A compiled function's source, and the folder where its code is kept."""
    from numba.core import config

    monkeypatch.setattr(config, "CACHE_DIR", str(tmp_path / "numba"))
    source = tmp_path / "summing.py"
    source.write_text(SUM.replace("FACTOR", "2.0"))
    assert summed(source) == (90.0, 0)
    assert summed(source) == (90.0, 1)
    return source, tmp_path / "numba"


@pytest.mark.parametrize("kind", ["nbi", "nbc"])
@pytest.mark.parametrize("damage", ["empty", "cut", "garbled", "another source"])
def test_damaged_compiled_code_is_compiled_anew(compiled_at, kind, damage):
    source, folder = compiled_at
    (path,) = folder.rglob(f"*.{kind}")
    whole = path.read_bytes()
    if damage == "another source":  # killed between the two files after an update
        source.write_text(SUM.replace("FACTOR", "3.0"))
        assert summed(source) == (135.0, 0)
        path.write_bytes(whole)
        assert summed(source) == (135.0, 0)
        return
    middle = len(whole) // 2
    path.write_bytes({
        "empty": b"", "cut": whole[:middle],
        "garbled": whole[:middle] + b"\xff" * 16 + whole[middle + 16 :],
    }[damage])  # fmt: skip
    assert summed(source) == (90.0, 0)
    assert summed(source) == (90.0, 1)


def test_compiled_code_that_cannot_be_kept_runs_all_the_same(compiled_at, monkeypatch):
    source, folder = compiled_at
    shutil.rmtree(folder)
    monkeypatch.setattr("os.replace", refuse)
    assert summed(source) == (90.0, 0)
    assert not [p for p in folder.rglob("*") if p.is_file()]


def refuse(*args, **kwargs):
    raise OSError(errno.ENOSPC, "No space left on device")


# no room


def limited(size: int):
    """No file over `size` bytes, and what the system does then: an error and a signal."""
    return lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (size, size))


def test_files_that_may_not_grow_are_told_in_one_line(place):
    with folders.folder_written(place / "renders" / "note") as work:
        (work / "report.json").write_bytes(before := b"the take before")
    code, said, told = ran(place, *RENDER, preexec_fn=limited(20_000))
    assert (code, said) == (2, "")
    assert told == (
        "renders/note: cannot be written (File too large); nothing was left half-written\n"
    )
    assert listed(place / "renders") == ["note"]
    assert (place / "renders" / "note" / "report.json").read_bytes() == before
    assert_cleared(place)


# who listens


def test_a_reader_that_has_gone_and_a_full_disk_behind_the_output(place):
    reading, writing = os.pipe()
    os.close(reading)
    try:
        code, _, told = ran(place, "instruments", stdout=writing)
    finally:
        os.close(writing)
    assert (code, told) == (0, "")
    if Path("/dev/full").exists():
        with open("/dev/full", "w") as full:
            for argv in (("check", "note.toml"), ("instruments", "--json")):
                code, _, told = ran(place, *argv, stdout=full)
                assert code == 2
                assert re.fullmatch("standard output.*No space left on device.*\n", told)
    code, _, told = ran(place, "--help", stdout=None, preexec_fn=lambda: os.close(1))
    assert (code, told) == (0, "")


@pytest.mark.slow
def test_a_reader_that_goes_does_not_stop_the_takes(place):
    with started(place, ("render", "note.toml", "two.toml", "walk.toml")) as process:
        assert process.stdout.readline()
        process.stdout.close()
        assert process.stderr.read() == ""
    assert process.returncode == 0
    assert {"note", "two", "two-cold", "walk"} <= set(listed(place / "renders"))


# stopped


def stop(process, number, alone: bool):
    with contextlib.suppress(ProcessLookupError):
        (os.kill if alone else os.killpg)(process.pid, number)


def assert_stopped(place, process, number):
    """It ended with one line and left nothing: no process, no line begun, nothing half-written."""
    said, told = process.communicate(timeout=PATIENCE)
    told = without_news(told)
    wait_until(lambda: not living(process.pid), f"{living(process.pid)} to end")
    assert_whole(place / "renders")
    assert_cleared(place)
    if process.returncode == 0:  # it was quicker
        assert told == ""
    else:
        assert process.returncode == 128 + number, told
        assert re.fullmatch(r"stopped.*\n", told), told
        assert not said or said.endswith("listen.html\n")  # a take that was there already


def test_a_request_to_end_stops_workers_and_all(place):
    with started(place, WALK) as process:
        wait_until(lambda: len(living(process.pid)) > 3 or process.poll() is not None, "workers")
        stop(process, signal.SIGTERM, alone=True)
        assert_stopped(place, process, signal.SIGTERM)


@pytest.mark.slow
@pytest.mark.parametrize("argv", [RENDER, WALK, TEACH, SWEPT], ids=lambda argv: argv[0])
def test_stopped_at_any_moment(place, argv):
    """Ctrl-C, once or twice, by all processes of a terminal; the others by the first alone."""
    draw = random.Random(argv[0])
    long = argv in (WALK, TEACH)
    kinds = [(signal.SIGINT, 1)] * 3 + [(signal.SIGINT, 2), (signal.SIGTERM, 1), (signal.SIGHUP, 1)]
    stopped, length = 0, length_of(argv)
    for number, times in kinds if long else 2 * kinds:
        began = time.monotonic()
        with started(place, argv) as process:
            wait_until(lambda: answers_signals(process), "the command to begin")
            time.sleep(draw.uniform(0.0, 0.9) * length)
            for _ in range(times):
                stop(process, number, alone=number != signal.SIGINT)
                time.sleep(0.05)
            assert_stopped(place, process, number)
            stopped += process.returncode != 0
        if process.returncode == 0:  # measured beside slower work
            length = min(length, time.monotonic() - began)
        for left in (place / "renders").glob("*.partial.npz"):
            left.unlink()  # so that a map begins anew
    assert stopped >= 3  # or nothing was tried
    assert ran(place, *argv)[0] == 0


@pytest.mark.parametrize(
    "when",
    ["playing", *(pytest.param(w, marks=pytest.mark.slow) for w in ("measuring", "drawing"))],
)
def test_ctrl_c_leaves_the_terminal_clean(place, when):
    """A real one: the key, pressed in a terminal, goes to every process in its foreground."""
    # long enough for a key to be pressed in time
    long = NOTE.replace("length_s = 0.1", "length_s = 30.0")
    (place / "two.toml").write_text(long + VARIANT)
    own, theirs = pty.openpty()
    termios.tcsetwinsize(theirs, (24, 80))

    def take_terminal():
        fcntl.ioctl(0, termios.TIOCSCTTY, 0)

    with started(place, ("render", "two.toml"), theirs, theirs, stdin=theirs,
                 preexec_fn=take_terminal) as process:  # fmt: skip
        os.close(theirs)
        shown = b""
        while f": {when}".encode() not in shown:
            shown += os.read(own, 4096)
        os.write(own, b"\x03")
        with contextlib.suppress(OSError):  # the other end is closed: all is read
            while more := os.read(own, 4096):
                shown += more
        code = process.wait(PATIENCE)
        os.close(own)
        wait_until(lambda: not living(process.pid), "all processes to end")
    *_, last, after = screen(shown.decode())
    assert (code, last, after) == (128 + signal.SIGINT, STOPPED.strip(), "")
    assert "Traceback" not in shown.decode()
    assert shown.count(b"\x1b[?25l") == shown.count(b"\x1b[?25h")  # the cursor, hidden and shown
    assert_cleared(place)


def screen(text: str) -> list[str]:
    """Lines of a terminal: what follows a carriage return is written over what was there."""
    lines = []
    for line in text.replace("\r\n", "\n").split("\n"):
        cells: list[str] = []
        for part in line.split("\r"):
            if part.startswith("\x1b[K"):
                part, cells = part[3:], []
            cells[: len(part)] = part
        lines.append("".join(cells).rstrip())
    return lines


# killed


@pytest.mark.parametrize("argv", [RENDER, WALK], ids=lambda argv: argv[0])
def test_no_process_outlives_the_first_one(place, argv):
    several = (
        2 if argv == RENDER else 4
    )  # with the second that draws; two workers and their helpers
    with started(place, argv) as process:
        wait_until(lambda: len(living(process.pid)) > several - 1, "its processes")
        os.kill(process.pid, signal.SIGKILL)
        process.communicate(timeout=PATIENCE)
    wait_until(lambda: not living(process.pid), f"{living(process.pid)} to end")


@pytest.mark.parametrize(
    ("argv", "times"),
    [
        *(pytest.param(argv, n, marks=pytest.mark.slow) for argv, n in ((RENDER, 6), (WALK, 3))),
        *(
            pytest.param(argv, n, marks=pytest.mark.long)
            for argv, n in ((RENDER, 30), (WALK, 12), (TEACH, 8))
        ),
    ],
    ids=["render", "map", "render often", "map often", "lesson often"],
)
def test_killed_at_any_moment(place, argv, times):
    """In turn all its processes and the first one alone; the moments fall anywhere and, every
    other two, where the folder is being written.  A run that ends before it is killed does not
    count."""
    draw, renders, killed = random.Random(argv[0]), place / "renders", 0
    for _ in range(4 * times):
        with started(place, argv) as process:
            if killed % 4 < 2 or argv == TEACH:  # a page is put in place too quickly
                time.sleep(draw.uniform(0.0, 1.0) * length_of(argv))
            else:
                before = set(hidden(renders))
                wait_until(
                    lambda: set(hidden(renders)) - before or process.poll() is not None,  # noqa: B023
                    "something to be written",
                )
                time.sleep(draw.uniform(0.0, 0.03))
            stop(process, signal.SIGKILL, alone=killed % 2 == 0)
            process.communicate(timeout=PATIENCE)
        wait_until(lambda: not living(process.pid), "all processes to end")
        assert_whole(renders)
        if process.returncode != -signal.SIGKILL:
            continue
        killed += 1
        if killed % 4 == 0 or killed == times:
            assert ran(place, *argv)[::2] == (0, "") or argv == WALK
            assert_whole(renders)
            assert_cleared(place)
        if killed == times:
            return
    raise AssertionError(f"only {killed} of {4 * times} runs were still there to be killed")


# in each other's way


@pytest.mark.slow
def test_two_renders_into_one_folder_at_once(place):
    for _ in range(4):
        both = [started(place, RENDER) for _ in range(2)]
        told = [p.communicate(timeout=PATIENCE)[1] for p in both]
        assert [p.returncode for p in both] == [0, 0], told
        assert_whole(place / "renders")
        assert_cleared(place)
    assert listed(place / "renders") == ["note", "note.previous"]


@pytest.mark.slow
@pytest.mark.parametrize("gone", ["renders", "."])
@pytest.mark.parametrize("argv", [RENDER, WALK, TEACH], ids=lambda argv: argv[0])
def test_a_folder_removed_while_it_runs(tmp_path, argv, gone):
    """What it writes into, and what it was called in with the scenes too."""
    draw = random.Random(argv[0] + gone)
    for number in range(3):
        place = tmp_path / str(number)
        place.mkdir()
        furnished(place)
        (place / "renders").mkdir()
        with started(place, argv, env={"TMPDIR": str(tmp_path)}) as process:
            wait_until(lambda: answers_signals(process), "the command to begin")
            time.sleep(draw.uniform(0.1, 0.95) * length_of(argv))
            shutil.rmtree(place / gone, ignore_errors=True)
            _, told = process.communicate(timeout=PATIENCE)
        assert process.returncode in (0, 2), told
        # a lesson tells one line for each of its two scenes
        assert told.count("\n") <= (2 if argv == TEACH else 1), told
        assert "Traceback" not in told
        assert_whole(place / "renders")


# no room, no home


@pytest.fixture
def small_disk(tmp_path):
    """A disk of 4 MB."""
    at = tmp_path / "disk"
    at.mkdir()
    command = ["mount", "-t", "tmpfs", "-o", "size=4m", "tmpfs", str(at)]
    if shutil.which("mount") is None or subprocess.run(command, check=False).returncode:
        pytest.skip("a disk cannot be mounted here")
    yield at
    subprocess.run(["umount", "-l", str(at)], check=True)


def fill(disk: Path, free: int):
    """Leave `free` bytes on the disk."""
    (disk / "filler").unlink(missing_ok=True)
    with open(disk / "filler", "wb", buffering=0) as file:
        with contextlib.suppress(OSError):
            while file.write(bytes(4096)) == 4096:
                pass
        file.truncate(max(0, file.tell() - free))


WRITERS = {
    "render": (*RENDER, "--out", "disk"),
    "map": (*WALK, "--out", "disk/walk-map"),
    "lesson": (*TEACH, "--out", "disk/lesson.html"),
    "compare": ("compare", "two.toml", "--out", "disk/compared"),
    "bundle": ("bundle", "note.toml", "--out", "disk/note.zip"),
    "chart": ("chart", "trumpet", "--out", "disk/chart"),
    "live": ("live", "note.toml", "--out", "disk/live.html"),
    "slots": (*SWEPT, "--out", "disk"),
    "resonances": ("resonances", "pipe", "--out", "disk/pipe"),
}


def contents(folder: Path) -> dict:
    """But for what a map keeps of itself when it is stopped."""
    others = ("filler", "walk-map.partial.npz")
    found = (p for p in sorted(folder.rglob("*")) if p.is_file() and p.name not in others)
    return {str(p.relative_to(folder)): p.read_bytes() for p in found}


@pytest.mark.slow
@pytest.mark.parametrize("argv", WRITERS.values(), ids=WRITERS)
def test_a_full_disk_is_told_in_one_line(place, small_disk, argv):
    assert ran(place, *argv)[0] == 0
    before = contents(small_disk)
    assert before
    for free in (0, 4096, 16_384):
        fill(small_disk, free)
        code, said, told = ran(place, *argv)
        if code == 0 and free:  # it had room: a chart is small
            before = contents(small_disk)
            continue
        assert code == 2, told
        # what was worked out before may be told; then the one line
        line = r"disk/\S+: cannot be written \(No space left on device\); nothing was left .*\n"
        assert re.fullmatch(line, told)
        assert "Wrote" not in said
        assert contents(small_disk) == before
        assert hidden(small_disk) == []


@pytest.mark.slow
@pytest.mark.parametrize("name", ["lesson", "compare", "bundle"])
def test_no_room_for_scratch_files_is_told(place, small_disk, name):
    fill(small_disk, 16_384)
    argv = (*WRITERS[name][:-1], "out.html" if name == "lesson" else "out.zip")
    code, _, told = ran(place, *argv, env={"TMPDIR": str(small_disk)})
    assert code == 2
    # a lesson tells one line for each of its two scenes
    line = r"\S+: cannot be written \(No space left on device\); nothing was left .*\n"
    assert re.fullmatch(rf"({line}){{{2 if name == 'lesson' else 1}}}(no cell.*\n)?", told), told
    assert hidden(small_disk) == []


@pytest.mark.slow
def test_without_a_home_and_with_nowhere_to_keep_anything_it_is_only_slower(place):
    """Beside the source a file lies where numba would make its folder."""
    package = place / "lib" / "lipmodel"
    shutil.copytree(ROOT / "lipmodel", package, ignore=shutil.ignore_patterns("__pycache__"))
    (package / "__pycache__").write_text("in the way")
    (place / "cache").write_text("in the way")
    env = {"PYTHONPATH": str(package.parent), "HOME": "/proc/nothing", "LIPMODEL_CACHE": ""}
    env |= {"XDG_CACHE_HOME": str(place / "cache"), "NUMBA_CACHE_DIR": "", "MPLCONFIGDIR": ""}
    for argv in (RENDER, RENDER, SWEPT, WALK):
        code, _, told = ran(place, *argv, env=env)
        assert (code, told) == (0, "")
    assert list((place / "tmp").rglob("*.nbc"))
    shutil.rmtree(place / "tmp" / f"lipmodel-{os.getuid()}")
    (place / "tmp" / f"lipmodel-{os.getuid()}").write_text("in the way")
    assert ran(place, *RENDER, env=env)[0] == 0
    assert_whole(place / "renders")
    assert not (place / "~").exists()


@pytest.mark.slow
def test_damaged_caches_are_made_anew(place):
    env = {"NUMBA_CACHE_DIR": str(place / "numba"), "LIPMODEL_CACHE": str(place / "kept")}
    assert ran(place, *RENDER, env=env)[0] == 0
    report = (place / "renders" / "note" / "sound.wav").read_bytes()
    kept = [p for name in env.values() for p in Path(name).rglob("*") if p.is_file()]
    assert {p.suffix for p in kept} == {".nbi", ".nbc", ".npz"}
    draw = random.Random(6)
    for path in kept:
        whole = bytearray(path.read_bytes())
        for _ in range(20):
            whole[draw.randrange(len(whole))] ^= 0xFF
        path.write_bytes(whole[: draw.choice([len(whole), len(whole) // 2, 0])])
    code, _, told = ran(place, *RENDER, env=env)
    assert (code, told) == (0, "")
    assert (place / "renders" / "note" / "sound.wav").read_bytes() == report
    assert ran(place, *RENDER, env=env)[::2] == (0, "")


@pytest.fixture
def own_signals():
    """After a stop the signals to end are ignored: the tests that follow want theirs back."""
    before = {n: signal.getsignal(n) for n in signals.to_end()}

    def given_back():
        for number, known in before.items():
            signal.signal(number, known)

    yield given_back
    given_back()


def signalled():
    signal.raise_signal(signal.SIGINT)
    return "done"


def within(module: str, function):
    """What `function` returns, called by code of a module."""
    names = {"__name__": module, "function": function}
    exec("done = function()", names)
    return names["done"]


def library_frees():
    return within("llvmlite.binding.ffi", signalled)


def library_closes():
    return within("soundfile", signalled)


class ExtensionFileLoader:
    """As the import system's own, where code of a module in C calls Python."""

    @staticmethod
    def exec_module():
        return signalled()


def module_in_c_begins():
    return ExtensionFileLoader.exec_module()


def module_is_locked():
    """As in the middle of the import system's own code, where a lock may be held."""
    own = {"__name__": "importlib._bootstrap", "signal": signal}
    exec("signal.raise_signal(signal.SIGINT); done = 'done'", own)
    return own["done"]


def finalized():
    class Left:
        def __del__(self):
            signalled()

    Left()
    return "done"


def forgotten():
    class Known:
        pass

    known = Known()
    watched = weakref.ref(known, lambda _: signalled())
    del known
    assert watched() is None
    return "done"


@pytest.mark.parametrize(
    "moment",
    [library_frees, library_closes, module_in_c_begins, module_is_locked, finalized, forgotten],
    ids=lambda m: m.__name__,
)
def test_a_stop_at_a_moment_that_must_not_or_cannot_raise_it_comes_soon_after(
    moment, own_signals, capfd
):
    before = sys.unraisablehook
    with signals.stoppable(last=False):
        assert moment() == "done"
        with pytest.raises(signals.Stopped):
            time.sleep(20.0)
    assert sys.unraisablehook is before
    assert capfd.readouterr().err == ""


def in_unbroken(told):
    with signals.unbroken():
        told.append(signalled())
    told.append("too late")


def in_the_inner_of_two(told):
    with signals.unbroken():
        with signals.unbroken():
            signalled()
        told.append("done")
    told.append("too late")


def in_its_breakable_part(told):
    with signals.unbroken():
        told.append("done")
        with signals.breakable():
            signalled()
            told.append("too late")


def before_its_breakable_part(told):
    with signals.unbroken():
        told.append(signalled())
        with signals.breakable():
            told.append("too late")


def behind_its_breakable_part(told):
    with signals.unbroken():
        with signals.breakable():
            pass
        told.append(signalled())
    told.append("too late")


def after_unbroken(told):
    with signals.unbroken():
        told.append("done")
    signalled()
    told.append("too late")


def while_a_folder_is_filled(told):
    with TemporaryDirectory() as place, folders.folder_written(Path(place) / "take"):
        told.append("done")
        signalled()
        told.append("too late")


def while_the_others_wait(told):
    with TemporaryDirectory() as place, atomic.alone_in(Path(place)):
        told.append("done")
        signalled()
        told.append("too late")


@pytest.mark.parametrize(
    "steps",
    [
        in_unbroken, in_the_inner_of_two, in_its_breakable_part, before_its_breakable_part,
        behind_its_breakable_part, after_unbroken, while_a_folder_is_filled,
        while_the_others_wait,
    ],
    ids=lambda steps: steps.__name__,
)  # fmt: skip
def test_a_stop_waits_for_the_end_of_steps_that_belong_together_and_no_longer(steps, own_signals):
    told = []
    with signals.stoppable(last=False), pytest.raises(signals.Stopped):
        steps(told)
    assert told == ["done"]


def stopped_at_line(k: int, makes) -> bool:
    """Whether `makes` is not done yet when the `k`-th line of the code that writes is reached: a
    signal comes there."""
    modules = {m.__file__ for m in (atomic, folders, contextlib)}
    reached = 0

    def trace(frame, event, _):
        nonlocal reached
        if frame.f_code.co_filename not in modules:
            return None
        if event == "line":
            reached += 1
            if reached == k:
                signal.raise_signal(signal.SIGINT)
        return trace

    with signals.stoppable(last=False):
        before = sys.gettrace()
        try:
            sys.settrace(trace)
            makes()
        except signals.Stopped:
            return True
        finally:
            sys.settrace(before)
    assert reached < k
    return False


# between two lines of a `with` a stop can come before the file is closed; its end closes it
@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
def test_a_stop_at_any_line_of_what_writes_leaves_nothing_aside(tmp_path, own_signals):
    """One take over another that has a previous one, and a file; each line in turn."""
    target, kept = tmp_path / "take", tmp_path / "kept.npz"

    def made(text):
        with folders.folder_written(target) as work:
            (work / "sound.wav").write_bytes(text)
        folders.write_bytes(kept, text)

    def found():
        return [p.read_bytes() for p in (target / "sound.wav", earlier, kept)]

    earlier = tmp_path / "take.previous" / "sound.wav"
    made(b"0")
    made(b"1")
    lines, before = 0, found()
    stopped, seen = True, set()
    while stopped:
        lines += 1
        text = b"take %d" % lines
        stopped = stopped_at_line(lines, lambda text=text: made(text))
        own_signals()
        assert listed(tmp_path) == ["kept.npz", "take", "take.previous"], lines
        takes = [before, [text, before[0], before[2]], [text, before[0], text]]
        assert found() in takes, lines
        seen.add(takes.index(found()))
        before = found()
    assert seen == {0, 1, 2}
    assert lines > 100


@pytest.fixture
def own_hook():
    """What is lost in a finalizer, as text, in place of what Python prints."""
    told = []
    before, sys.unraisablehook = sys.unraisablehook, lambda lost: told.append(str(lost.exc_value))
    yield told
    sys.unraisablehook = before


class Left:
    def __del__(self):
        raise AttributeError("half-made")


def test_a_stop_comes_while_a_module_is_loaded(own_signals):
    """Only the import system's own steps are left to end: a module may take a second."""
    with signals.stoppable(last=False), pytest.raises(signals.Stopped):
        within("importlib._bootstrap", signalled)


def test_what_else_is_lost_in_a_finalizer_is_told_as_ever(own_hook):
    with signals.stoppable(last=False):
        Left()
    assert own_hook == ["half-made"]


@pytest.mark.parametrize("last", [False, True])
def test_what_a_stop_left_half_made_complains_to_nobody(last, own_signals, own_hook):
    with signals.stoppable(last):
        try:
            half = Left()
            signalled()
        except signals.Stopped:
            del half
    assert own_hook == []
    Left()  # the process ends, or goes on
    assert own_hook == ([] if last else ["half-made"])
