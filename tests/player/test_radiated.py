"""The keys of a scene that say where the ears are reach the sound."""

import numpy as np
import pytest

from lipmodel.player.performance import perform
from lipmodel.scene.scene import read_scene

SCENE = """[instrument]
name = "trumpet"
[player]
tension_hz = 420.0
pressure_kpa = 8.0
[sound]
length_s = 0.4
"""


@pytest.fixture(scope="module")
def heard(tmp_path_factory):
    folder, found = tmp_path_factory.mktemp("heard"), {}
    for name, more in {
        "plain": "", "told": 'place = "listener"\nfloor = false\n', "player": 'place = "player"\n',
        "floor": "floor = true\n",
    }.items():  # fmt: skip
        (folder / f"{name}.toml").write_text(SCENE + more)
        found[name] = perform(read_scene(folder / f"{name}.toml")).radiated_pressure
    return found


def test_the_keys_of_a_scene_reach_the_sound(heard):
    assert np.array_equal(heard["plain"], heard["told"])
    for name in ("player", "floor"):
        assert not np.allclose(heard[name], heard["plain"], rtol=0.1)
