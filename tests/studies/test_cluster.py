"""The map on a Dask cluster is the very same."""

import pytest
from support import small_cluster

from lipmodel.scene.scene import read_scene
from lipmodel.studies.map import NoteMap
from lipmodel.system import cluster as dask_cluster

# Dask's own processes and sockets are closed a moment after it says so
pytestmark = [pytest.mark.filterwarnings("ignore"), pytest.mark.slow]
scene = small_cluster.scene  # the same fixture


def test_a_local_cluster_finds_the_very_same(scene, tmp_path):
    pytest.importorskip("dask.distributed")
    here, there = (NoteMap(read_scene(scene), tmp_path / "out") for _ in range(2))
    here.run(1)
    there.run("local")
    assert there.cells.tobytes() == here.cells.tobytes()
    assert there.thresholds.tobytes() == here.thresholds.tobytes()


def test_a_cluster_is_found_by_its_address(scene, tmp_path):
    distributed = pytest.importorskip("dask.distributed")
    here, there = (NoteMap(read_scene(scene), tmp_path / "out") for _ in range(2))
    here.run(1)
    with distributed.LocalCluster(
        n_workers=1, threads_per_worker=2, dashboard_address=None
    ) as cluster:
        assert dask_cluster.size(cluster.scheduler_address) == 2  # threads
        there.run(cluster.scheduler_address)
    assert there.cells.tobytes() == here.cells.tobytes()
