"""Rooms of a scene: what the named ones are, and where a bell that points up may be heard."""

import pytest

from lipmodel.errors import SceneError
from lipmodel.scene import room
from lipmodel.scene.scene import Scene
from lipmodel.sound import listener

UP = """bell_up = true
[[section]]
shape = "cylinder"
length_mm = 1200
diameter_mm = 12.0
"""


def test_the_heights_are_the_listeners():
    # scenes know no sound: the same numbers stand there
    heard = (listener.BELL_HEIGHT, listener.EAR_HEIGHT, listener.PLAYER_DISTANCE)
    assert heard == (room.BELL_M, room.EAR_M, room.PLAYER_M)


def test_the_shortest_time_is_eyrings():
    # 24 ln 10/339 = 0.163; 0.163 * 60/(94 * 0.4308) = 0.2415 s in 5 x 4 x 3 m, by hand, rounded up
    assert room.shortest((5.0, 4.0, 3.0)) == pytest.approx(0.25)


def test_the_named_rooms_could_be_given_as_tables():
    for name, box in room.ROOMS.items():
        tables = {"size_m": list(box.size_m), "reverberation_s": box.reverberation_s}
        assert room.room_of(room.Room.model_validate(tables)) == room.room_of(name)
    assert room.room_of("none") is None


def test_a_bell_that_points_up_is_heard_alike_from_all_sides(tmp_path):
    (tmp_path / "up.toml").write_text(UP)
    player = {"tension_hz": 200.0, "pressure_kpa": 4}
    tables = {"instrument": {"bore": "up.toml"}, "player": player}
    free = Scene.from_dict(tables | {"sound": {"angle_deg": 40.0}}, tmp_path)
    with pytest.raises(SceneError, match=r"sound\.angle_deg = 40\.0: expected 0: in a room"):
        free.replace({"sound.room": "hall"})
    free.replace({"sound.room": "hall", "sound.angle_deg": 0.0})


def test_a_box_in_the_place_of_a_name_is_told_as_one_thing():
    box = {"size_m": [40, 20, 12], "reverberation_s": 2.5}
    tables = {"instrument": {"name": "trumpet"}, "player": {"tune": "C5 1"},
              "sound": {"room": "hall", "length_s": 2.0},
              "variant": [{"name": "box", "sound": {"room": box}},
                          {"name": "free", "sound": {"room": "none"}}]}  # fmt: skip
    _, other, free = Scene.from_dict(tables).variants
    told = "sound.room: hall -> size_m [40.0, 20.0, 12.0], reverberation_s 2.5"
    assert (other.changed, free.changed) == ((told,), ("sound.room: hall -> none",))
