"""Compiled code that is damaged or cannot be kept is compiled anew."""

import importlib.util
import os
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from support import processes
from support.processes import RENDER, ROOT, ran, refuse

place = processes.place  # the same fixture
nothing_runs_on = processes.nothing_runs_on  # the same fixture

SUM = """
from lipmodel.waveguide.kernels.compiler import compiled

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


OTHER_INSIDES = """
import numba.core.caching, numba.core.options
{}
from lipmodel.commands.main import main
from lipmodel.waveguide.kernels import compiler
assert compiler.OwnCache is None
raise SystemExit(main(["render", "note.toml"]))
"""


@pytest.mark.slow
@pytest.mark.parametrize(
    "change",
    ["del numba.core.caching.IndexDataCacheFile", "numba.core.options.TargetOptions = object"],
)
def test_a_numba_with_other_insides_plays_the_same_sound(place, change):
    assert ran(place, *RENDER)[0] == 0
    sound = place / "renders" / "note" / "sound.wav"
    with np.load(place / "renders" / "note" / "traces.npz") as traces:
        before = dict(traces)
    subprocess.run([sys.executable, "-c", OTHER_INSIDES.format(change)], cwd=place, check=True,
                   env={**os.environ, "PYTHONPATH": str(ROOT)})  # fmt: skip
    with np.load(place / "renders" / "note" / "traces.npz") as traces:
        for name, values in before.items():
            np.testing.assert_array_equal(traces[name], values)
    previous = place / "renders" / "note.previous" / "sound.wav"
    assert sound.read_bytes() == previous.read_bytes()
