"""The map on a Dask cluster: the same table, and one line where there is no cluster."""

import builtins
import os
import signal
import socket
import time
from pathlib import Path

import pytest

from lipmodel import errors
from lipmodel.commands.main import main
from lipmodel.scene.scene import read_scene
from lipmodel.studies import map
from lipmodel.studies.map import Survey
from lipmodel.system import cluster as dask_cluster
from lipmodel.system.tasks import Task
from lipmodel.system.workers import run_many

SCENE = """
[instrument]
name = "trumpet"
[player]
tension_hz = 300
pressure_kpa = 4
[map]
tension_hz = [300, 460]
pressure_kpa = [3, 6]
columns = 5
rows = 3
note_s = 0.2
"""
# Dask's own processes and sockets are closed a moment after it says so
pytestmark = pytest.mark.filterwarnings("ignore")


@pytest.fixture
def scene(tmp_path, monkeypatch):
    monkeypatch.setattr(map, "THRESHOLDS", (0.9, 1.0, 2))
    path = tmp_path / "class.toml"
    path.write_text(SCENE, encoding="utf-8")
    return path


def double(shared, number):
    if number == 2:
        raise ValueError("two is too many")
    return shared * number


def die_once(shared, number):
    mark = Path(shared) / f"{number}"
    if number == 2 and not mark.exists():
        mark.write_text("died")
        os.kill(os.getpid(), signal.SIGKILL)
    return number


def test_a_local_cluster_finds_the_very_same(scene, tmp_path):
    pytest.importorskip("dask.distributed")
    here, there = (Survey(read_scene(scene), tmp_path / "out") for _ in range(2))
    here.run(1)
    there.run("local")
    assert there.cells.tobytes() == here.cells.tobytes()
    assert there.thresholds.tobytes() == here.thresholds.tobytes()


def test_a_cluster_is_found_by_its_address(scene, tmp_path):
    distributed = pytest.importorskip("dask.distributed")
    here, there = (Survey(read_scene(scene), tmp_path / "out") for _ in range(2))
    here.run(1)
    with distributed.LocalCluster(
        n_workers=1, threads_per_worker=2, dashboard_address=None
    ) as cluster:
        assert dask_cluster.size(cluster.scheduler_address) == 2  # threads
        there.run(cluster.scheduler_address)
    assert there.cells.tobytes() == here.cells.tobytes()


def test_a_task_that_fails_on_the_cluster_is_told():
    pytest.importorskip("dask.distributed")
    found = {o.index: o for o in run_many([Task(double, (i,)) for i in range(5)], "local", 3)}
    assert found[2].problem == "ValueError: two is too many"
    assert [found[i].value for i in (0, 1, 3, 4)] == [0, 3, 9, 12]


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="needs SIGKILL")
def test_a_killed_worker_of_the_cluster_loses_nothing(tmp_path):
    pytest.importorskip("dask.distributed")
    tasks = [Task(die_once, (i,)) for i in range(5)]
    found = {o.index: o.value for o in run_many(tasks, "local", str(tmp_path))}
    assert found == {i: i for i in range(5)}


@pytest.fixture
def deaf():
    """The address of something that answers the telephone and says nothing."""
    with socket.create_server(("127.0.0.1", 0)) as server:
        yield f"tcp://127.0.0.1:{server.getsockname()[1]}"


SLOW = (pytest.param(a, marks=pytest.mark.slow) for a in ("deaf", "tcp://127.0.0.1:9"))


@pytest.mark.parametrize("address", [*SLOW, "nonsense://x", "nowhere"])
def test_a_cluster_that_does_not_answer(scene, deaf, address, capsys):
    pytest.importorskip("dask.distributed")
    address = deaf if address == "deaf" else address
    began = time.perf_counter()
    assert main(["map", str(scene), "--cluster", address]) == 2
    assert (
        time.perf_counter() - began < 15
    )  # the promise; PATIENCE is 8 s, and 2 more go by closing the line
    error = capsys.readouterr().err
    assert f"--cluster {address}: no answer" in error
    assert error.count("\n") == 1


def test_a_cluster_without_workers(scene, capsys):
    distributed = pytest.importorskip("dask.distributed")
    with distributed.LocalCluster(n_workers=0, dashboard_address=None) as cluster:
        assert main(["map", str(scene), "--cluster", cluster.scheduler_address]) == 2
    assert "has no workers" in capsys.readouterr().err


def test_without_dask_the_extra_is_named(scene, monkeypatch, capsys):
    real = builtins.__import__

    def without(name, *args, **kwargs):
        if name.startswith("dask"):
            raise ImportError(name)
        return real(name, *args, **kwargs)

    monkeypatch.setattr(builtins, "__import__", without)
    assert main(["map", str(scene), "--cluster", "local"]) == 2
    assert "lipmodel[cluster]" in capsys.readouterr().err
    with pytest.raises(errors.SceneError, match="Dask is not installed"):
        list(run_many([Task(double, (1,))], "local"))
