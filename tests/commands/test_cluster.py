"""A cluster that is not there, has no workers or no library: one line."""

import builtins
import socket
import time

import pytest
from support import small_cluster
from support.tasks import double

from lipmodel import errors
from lipmodel.commands.main import main
from lipmodel.system.tasks import Task
from lipmodel.system.workers import run_many

# Dask's own processes and sockets are closed a moment after it says so
pytestmark = [pytest.mark.filterwarnings("ignore"), pytest.mark.slow]
scene = small_cluster.scene  # the same fixture


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
