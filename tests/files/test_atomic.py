"""Complete or absent: folders and files put in place, whoever writes, fails or stops meanwhile."""

import contextlib
import errno
import os
import signal
import subprocess
import sys

import pytest
from support.processes import PATIENCE, ROOT, listed, refuse

from lipmodel.errors import SceneError, Stopped
from lipmodel.files import folders
from lipmodel.system import signals

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
        "import sys\nfrom pathlib import Path\nfrom lipmodel.files import folders\n"
        "for n in range(60):\n"
        "    with folders.folder_written(Path('take')) as work:\n"
        "        for name in ('sound.wav', 'report.json'):\n"
        "            (work / name).write_text(f'{sys.argv[1]} {n}')\n"
        "    folders.write_bytes(Path('map.json'), b'whole' * 5000)\n"
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


@pytest.mark.parametrize("before", [True, False])
def test_a_stop_before_the_last_step_leaves_what_was_there(tmp_path, before):
    """A folder and a file: filled, but not put in place."""
    if before:
        with folders.folder_written(tmp_path / "take") as work:
            (work / "sound.wav").write_bytes(b"first")
        folders.write_bytes(tmp_path / "lesson.html", b"first")
    found = listed(tmp_path)

    def stopped_folder():
        with folders.folder_written(tmp_path / "take") as work:
            (work / "sound.wav").write_bytes(b"second")
            signal.raise_signal(signal.SIGINT)

    def stopped_file():
        signal.raise_signal(signal.SIGINT)
        folders.write_bytes(tmp_path / "lesson.html", b"second")

    for stopped in (stopped_folder, stopped_file):
        with signals.stoppable(last=False), pytest.raises(Stopped):
            stopped()
    assert listed(tmp_path) == found
    if before:
        assert (tmp_path / "take" / "sound.wav").read_bytes() == b"first"
        assert (tmp_path / "lesson.html").read_bytes() == b"first"
