"""Killed, stopped, in each other's way: what is left is whole, and is told in a line."""

import contextlib
import fcntl
import os
import pty
import random
import re
import shutil
import signal
import termios
import time
from pathlib import Path

import pytest
from support import processes
from support.processes import (
    MAP,
    NOTE,
    PATIENCE,
    RENDER,
    SWEPT,
    TEACH,
    VARIANT,
    WALK,
    answers_signals,
    assert_cleared,
    assert_whole,
    furnished,
    hidden,
    length_of,
    listed,
    living,
    ran,
    started,
    wait_until,
    without_news,
)

place = processes.place  # the same fixture
nothing_runs_on = processes.nothing_runs_on  # the same fixture

pytestmark = [
    pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="needs /proc"),
    pytest.mark.slow,  # real processes, stopped and killed
]


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


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGHUP])
def test_a_request_to_end_stops_workers_and_all(place, number):
    with started(place, WALK) as process:
        wait_until(lambda: len(living(process.pid)) > 3 or process.poll() is not None, "workers")
        stop(process, number, alone=True)
        assert_stopped(place, process, number)


def test_ctrl_c_on_a_map_keeps_what_is_done(place):
    """A grid that takes long enough to have kept something, two seconds in."""
    (place / "walk.toml").write_text(NOTE + MAP.replace("columns = 24", "columns = 600"))
    kept = place / "renders" / "walk-map.partial.npz"
    with started(place, WALK) as process:
        wait_until(kept.exists, "something to be kept")
        stop(process, signal.SIGINT, alone=False)
        _, told = process.communicate(timeout=PATIENCE)
    assert process.returncode == 128 + signal.SIGINT
    cells = re.fullmatch(
        r"stopped; (\d+) of 2400 cells are kept in (\S+): .*\n", without_news(told)
    )
    assert 0 < int(cells[1]) < 2400
    assert place / cells[2] == kept
    assert listed(place / "renders") == [kept.name]
    assert_cleared(place)


@pytest.mark.long
@pytest.mark.parametrize("argv", [RENDER, WALK, TEACH, SWEPT], ids=lambda argv: argv[0])
def test_stopped_at_any_moment(place, argv):
    """Ctrl-C by all processes of a terminal; the others by the first alone."""
    draw = random.Random(argv[0])
    stopped, length = 0, length_of(argv)
    for number in 4 * [signal.SIGINT, signal.SIGTERM, signal.SIGHUP]:
        began = time.monotonic()
        with started(place, argv) as process:
            wait_until(lambda: answers_signals(process), "the command to begin")
            time.sleep(draw.uniform(0.0, 0.9) * length)
            stop(process, number, alone=number != signal.SIGINT)
            assert_stopped(place, process, number)
            stopped += process.returncode != 0
        if process.returncode == 0:  # measured beside slower work
            length = min(length, time.monotonic() - began)
        for left in (place / "renders").glob("*.partial.npz"):
            left.unlink()  # so that a map begins anew
    assert stopped >= 3  # or nothing was tried
    assert ran(place, *argv)[0] == 0


MOMENTS = {  # what the bar shows then
    "playing": (("render", "two.toml"), "two: playing"),
    "measuring": (("render", "two.toml"), "two: measuring"),
    "drawing": (("render", "two.toml"), "two: drawing"),
    "sweeping": (SWEPT, "sweeping up"),
    "mapping": (WALK, "map"),
    "teaching": (TEACH, "walk: playing"),
}


@pytest.mark.parametrize(
    ("argv", "words"),
    [pytest.param(*m, marks=[pytest.mark.slow] * (n != "playing")) for n, m in MOMENTS.items()],
    ids=MOMENTS,
)
def test_ctrl_c_leaves_the_terminal_clean(place, argv, words):
    """A real one: the key, pressed in a terminal, goes to every process in its foreground."""
    # long enough for a key to be pressed in time
    long = NOTE.replace("length_s = 0.1", "length_s = 30.0")
    (place / "two.toml").write_text(long + VARIANT)
    own, theirs = pty.openpty()
    termios.tcsetwinsize(theirs, (24, 80))

    def take_terminal():
        fcntl.ioctl(0, termios.TIOCSCTTY, 0)

    with started(place, argv, theirs, theirs, stdin=theirs,
                 preexec_fn=take_terminal) as process:  # fmt: skip
        os.close(theirs)
        shown = b""
        while words.encode() not in shown:
            shown += os.read(own, 4096)
        os.write(own, b"\x03")
        with contextlib.suppress(OSError):  # the other end is closed: all is read
            while more := os.read(own, 4096):
                shown += more
        code = process.wait(PATIENCE)
        os.close(own)
        wait_until(lambda: not living(process.pid), "all processes to end")
    *_, last, after = screen(shown.decode())
    assert (code, after) == (128 + signal.SIGINT, "")
    assert re.fullmatch("stopped.*; nothing was left half-written", last)
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


@pytest.mark.slow
@pytest.mark.parametrize("alone", [False, True])
@pytest.mark.parametrize("argv", [RENDER, WALK], ids=lambda argv: argv[0])
def test_killed_while_it_writes(place, argv, alone):
    """All its processes or the first one alone; the next run clears away what is left."""
    renders = place / "renders"
    with started(place, argv) as process:
        wait_until(lambda: hidden(renders) or process.poll() is not None, "something to be written")
        stop(process, signal.SIGKILL, alone)
        process.communicate(timeout=PATIENCE)
    wait_until(lambda: not living(process.pid), "all processes to end")
    assert_whole(renders)
    assert ran(place, *argv)[0] == 0
    assert_whole(renders)
    assert_cleared(place)


@pytest.mark.long
@pytest.mark.parametrize(
    ("argv", "times"), [(RENDER, 30), (WALK, 12), (TEACH, 8)], ids=["render", "map", "lesson"]
)
def test_killed_at_any_moment(place, argv, times):
    """In turn all its processes and the first one alone.  A run that ends before it is killed does
    not count."""
    draw, renders, killed = random.Random(argv[0]), place / "renders", 0
    for _ in range(4 * times):
        with started(place, argv) as process:
            time.sleep(draw.uniform(0.0, 1.0) * length_of(argv))
            stop(process, signal.SIGKILL, alone=killed % 2 == 0)
            process.communicate(timeout=PATIENCE)
        wait_until(lambda: not living(process.pid), "all processes to end")
        assert_whole(renders)
        killed += process.returncode == -signal.SIGKILL
        if killed == times:
            break
    assert killed == times
    assert ran(place, *argv)[0] == 0
    assert_whole(renders)
    assert_cleared(place)


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
@pytest.mark.parametrize(
    ("argv", "gone"),
    [(RENDER, "renders"), (WALK, "renders"), (TEACH, "renders"), (RENDER, "."), (TEACH, ".")],
    ids=lambda v: v if v in ("renders", ".") else v[0],
)
def test_a_folder_removed_while_it_runs(tmp_path, argv, gone):
    """What it writes into, and what it was called in with the scenes too."""
    place = tmp_path / "place"
    place.mkdir()
    furnished(place)
    (place / "renders").mkdir()
    with started(place, argv, env={"TMPDIR": str(tmp_path)}) as process:
        wait_until(lambda: len(living(process.pid)) > 1, "a second process")
        shutil.rmtree(place / gone, ignore_errors=True)
        _, told = process.communicate(timeout=PATIENCE)
    assert process.returncode in (0, 2), told
    # a lesson tells one line for each of its two scenes
    assert told.count("\n") <= (2 if argv == TEACH else 1), told
    assert "Traceback" not in told
    assert_whole(place / "renders")
