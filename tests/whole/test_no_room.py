"""Out of room, without a home, with nobody listening: told in a line, and nothing is broken."""

import contextlib
import os
import random
import re
import resource
import shutil
import subprocess
from pathlib import Path

import pytest
from support import processes
from support.processes import (
    RENDER,
    ROOT,
    SWEPT,
    TEACH,
    WALK,
    assert_cleared,
    assert_whole,
    hidden,
    listed,
    ran,
    started,
)

from lipmodel.files import folders

COMPILING = "compiling the time loop (about half a minute) ...\n"

pytestmark = [
    pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="needs /proc"),
    pytest.mark.slow,  # real processes without room
]
place = processes.place  # the same fixture
nothing_runs_on = processes.nothing_runs_on  # the same fixture


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


OFTEN = ("render", "map", "bundle", "resonances")


def contents(folder: Path) -> dict:
    """But for what a map keeps of itself when it is stopped."""
    others = ("filler", "walk-map.partial.npz")
    found = (p for p in sorted(folder.rglob("*")) if p.is_file() and p.name not in others)
    return {str(p.relative_to(folder)): p.read_bytes() for p in found}


@pytest.mark.slow
@pytest.mark.parametrize(
    "argv",
    # all of them write by `files.atomic`: before a release each is tried
    [pytest.param(argv, marks=() if name in OFTEN else pytest.mark.long)
     for name, argv in WRITERS.items()],
    ids=WRITERS,
)  # fmt: skip
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
        assert re.fullmatch(f"(Section .*\n)*{line}", told)
        assert "Wrote" not in said
        assert contents(small_disk) == before
        assert hidden(small_disk) == []


@pytest.mark.slow
@pytest.mark.parametrize("name", ["lesson", "compare", "bundle"])
def test_what_stays_in_memory_needs_no_room_for_scratch_files(place, small_disk, name):
    fill(small_disk, 16_384)
    target = "out.html" if name == "lesson" else "out.zip"
    argv = (*WRITERS[name][:-1], target)
    code, said, told = ran(place, *argv, env={"TMPDIR": str(small_disk)})
    told = re.sub("Section .*\n", "", told.replace(COMPILING, ""))
    assert (code, told) == (0, "")
    assert target in said
    assert hidden(small_disk) == []


@pytest.mark.long
def test_without_a_home_and_with_nowhere_to_keep_anything_it_is_only_slower(place):
    """Beside the source a file lies where numba would make its folder."""
    package = place / "lib" / "lipmodel"
    shutil.copytree(ROOT / "lipmodel", package, ignore=shutil.ignore_patterns("__pycache__"))
    (package / "waveguide" / "kernels" / "__pycache__").write_text("in the way")
    (place / "cache").write_text("in the way")
    env = {"PYTHONPATH": str(package.parent), "HOME": "/proc/nothing", "LIPMODEL_CACHE": ""}
    env |= {"XDG_CACHE_HOME": str(place / "cache"), "NUMBA_CACHE_DIR": "", "MPLCONFIGDIR": ""}
    for argv, expected in ((RENDER, COMPILING), (RENDER, ""), (SWEPT, ""), (WALK, "")):
        code, _, told = ran(place, *argv, env=env)
        assert (code, told) == (0, expected)
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
    assert (code, told) == (0, COMPILING)
    assert (place / "renders" / "note" / "sound.wav").read_bytes() == report
    assert ran(place, *RENDER, env=env)[::2] == (0, "")
