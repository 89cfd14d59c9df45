"""Complete or absent: folders and files put in place, and a stop at any line of it."""

import contextlib
import errno
import fcntl
import os
import signal
import subprocess
import sys
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from support import stops
from support.processes import PATIENCE, ROOT, listed, refuse
from support.stops import signalled

from lipmodel.errors import SceneError
from lipmodel.files import atomic, folders
from lipmodel.system import signals

own_signals = stops.own_signals  # the same fixture


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
