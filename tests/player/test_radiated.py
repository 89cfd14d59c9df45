"""The keys of a scene that say where the ears are reach the sound."""

import tracemalloc

import numpy as np
import pytest
from support.long_runs import SHORT, short_memory

from lipmodel.files.long_arrays import Trace, room_for
from lipmodel.player.performance import perform
from lipmodel.player.run import run_of
from lipmodel.scene.scene import Scene, read_scene
from lipmodel.sound import listener

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


@pytest.fixture(scope="module")
def around():
    tables = {"instrument": {"name": "trumpet"},
              "player": {"tension_hz": 420.0, "pressure_kpa": 8.0}}  # fmt: skip
    found = {}
    for name, sound in {
        "free": {}, "hall": {"room": "hall"}, "again": {"room": "hall"},
        "seed": {"room": "hall", "seed": 2}, "two": {"room": "hall", "stereo": True},
        "two free": {"stereo": True, "floor": True},
    }.items():  # fmt: skip
        scene = Scene.from_dict(tables | {"sound": {"length_s": 0.6, **sound}})
        found[name] = perform(scene)
    return found


def test_without_a_room_the_sound_is_the_one_that_was_worked_out(around):
    free = around["free"]
    assert free.built.room is None
    assert free.at_ears[0] is free.radiated_pressure
    assert [*run_of(free).traces()][-1] == "tension_hz"


def test_a_room_leaves_what_is_played_and_the_direct_sound_as_they_were(around):
    free, hall = around["free"], around["hall"]
    assert np.array_equal(free.played.flow, hall.played.flow)
    assert np.array_equal(free.radiated_pressure, hall.radiated_pressure)
    assert np.array_equal(hall.at_ears[0], around["again"].at_ears[0])
    assert not np.array_equal(hall.at_ears[0], around["seed"].at_ears[0])
    # until the floor's image comes, hypot(1, 2.4) - 1 = 1.6 m later than the first sound
    sounds = int(np.argmax(np.abs(free.radiated_pressure) > 0))
    first = sounds + int(1.6 / 345.0 * free.built.rate) - 1
    apart = np.abs(hall.at_ears[0] - free.radiated_pressure)
    assert apart[:first].max() < 1e-9 * np.abs(free.radiated_pressure).max()
    assert apart[first:].max() > 0.1 * np.abs(free.radiated_pressure).max()


def test_two_ears_hear_two_sounds_equally_early(around):
    left, right = around["two"].at_ears
    assert not np.allclose(left, right, rtol=0.1)
    traces = run_of(around["two"]).traces()
    assert traces["radiated_pressure_right_pa"] is right
    assert traces["radiated_pressure_pa"] is left
    # without a room both ears are alike to a listener in the axis
    left, right = around["two free"].at_ears
    assert left == pytest.approx(right, rel=1e-6, abs=1e-9 * np.abs(left).max())


def test_how_strong_the_room_is_is_the_energy_of_what_it_adds(around):
    hall = around["hall"]
    added = np.sum((hall.at_ears[0] - hall.radiated_pressure) ** 2)
    over = 10 * np.log10(added / np.sum(hall.radiated_pressure**2))
    assert hall.room_over_direct == pytest.approx(over, abs=1e-6)


def test_long_sounds_in_a_room_are_the_same_in_pieces(around, monkeypatch, tmp_path):
    linear = {"sound.length_s": 0.65, "sound.steepening": False}  # whose pieces are its own
    scene = around["two"].built.scene.replace(linear)
    whole = perform(scene).at_ears
    short_memory(monkeypatch)
    with room_for(SHORT + 1, tmp_path) as room:
        for ear, known in zip(perform(scene, room=room).at_ears, whole, strict=True):
            assert isinstance(ear, Trace)
            assert ear[:] == pytest.approx(known, abs=1e-9 * known.max())


def test_a_long_room_takes_little_memory(monkeypatch, tmp_path):
    n, response = 3_200_000, np.random.default_rng(1).standard_normal(120_000)
    with room_for(n, tmp_path) as room:
        wave = room.trace(n)
        wave[n // 2 : n // 2 + 1] = 1.0
        still = room.trace(n)
        tracemalloc.start()
        heard = listener.radiated(wave, still, 1.0, response, None, room)
        _, most = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        part = slice(n // 2, n // 2 + len(response))
        assert heard[part] == pytest.approx(response, abs=1e-9)
    # pieces of 2^18 samples and a transform of 2^19: measured 16 MB; the sound itself is 26
    assert most < 26e6
