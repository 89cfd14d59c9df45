"""The room in a report: its row, and what is said of it."""

import pytest
from support.true_room import walls_over_direct
from support.typed import misfits

from lipmodel.output.report_types import Room
from lipmodel.output.room import room_row, room_sentences
from lipmodel.player.build import build
from lipmodel.player.performance import perform
from lipmodel.player.source import play_source
from lipmodel.scene.scene import Scene

TABLES = {"instrument": {"name": "trumpet"}, "player": {"tension_hz": 420.0, "pressure_kpa": 8.0}}
POP = {"instrument": {"name": "pipe"}, "source": {"kind": "pop", "strength_kpa": 1.0}}
UP = 'bell_up = true\n[[section]]\nshape = "cylinder"\nlength_mm = 1200\ndiameter_mm = 12.0\n'


def told(row, **sound):
    given = {"distance_m": 3.0, "place": "listener", "stereo": False, **sound}
    return room_sentences({"room": row, "inputs": {"sound": given}})


def row_of(tables, sound, folder="."):
    scene = Scene.from_dict(tables | {"sound": {"length_s": 0.5, **sound}}, folder)
    return room_row(play_source(build(scene)) if scene.source else perform(scene))


@pytest.fixture(scope="module")
def hall():
    return row_of(TABLES, {"room": "hall", "distance_m": 3.0})


def test_free_field_is_no_room_and_nothing_is_said():
    assert row_of(TABLES, {"length_s": 0.1}) is None
    assert told(None) == []


def test_the_row_says_which_room_was_added(hall):
    assert not misfits(hall, Room)
    assert (hall["name"], hall["size_m"], hall["reflections"]) == ("hall", [22.0, 14.0, 8.0], 24)
    assert hall["octaves"]["frequency_hz"] == [125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0]
    assert hall["octaves"]["reverberation_s"][3] == 1.7
    # Eyring by hand: 55.26/345 * 2464/(1192 * 1.7) = 0.1948, 1 - e^-0.1948 = 0.177
    assert hall["wall_takes"] == pytest.approx(0.177, abs=0.001)


def test_a_slap_is_heard_in_a_room_too():
    row = row_of(POP, {"room": {"size_m": [5, 4, 3], "reverberation_s": 0.6}, "distance_m": 2.0})
    sound = {"room": {"size_m": [5, 4, 3], "reverberation_s": 0.6}, "distance_m": 2.0}
    theory = walls_over_direct({"inputs": {"sound": {**sound, "place": "listener"}}})
    assert row["name"] == "room"
    # a pipe's end before the listener has up to some dB more than all round
    assert theory - 8 < row["over_direct_db"] < theory + 4


def test_nobody_blows_and_nothing_comes_back():
    silent = TABLES | {"player": {"tension_hz": 420.0, "pressure_kpa": 0.0}}
    assert row_of(silent, {"room": "hall", "length_s": 0.2})["over_direct_db"] is None


def test_a_bell_that_points_up_stands_higher(tmp_path):
    (tmp_path / "up.toml").write_text(UP)
    tables = {"instrument": {"bore": "up.toml"}, "source": POP["source"]}
    row = row_of(tables, {"room": "hall"}, tmp_path)
    assert (row["bell_up"], row["bell_height_m"]) == (True, 1.5)
    assert told(row)[0].endswith(" comes directly. The bell points up.")
    assert row_of(tables, {"room": "hall", "bell_height_m": 1.3}, tmp_path)["bell_height_m"] == 1.3


START = "Heard in a made-up hall of 22 x 14 x 8 m, in which sound fades by 60 dB in 1.70 s"


@pytest.mark.parametrize(
    ("over", "sound", "end"),
    [
        (6.6, {}, ": at 3 m its walls send back 7 dB more than comes directly."),
        (-2.6, {"distance_m": 7.0}, ": at 7 m its walls send back 3 dB less than comes directly."),
        (0.4, {"place": "player"},
         ": at the player's ear its walls send back as much as comes directly."),
        (None, {}, "."),
    ],
)  # fmt: skip
def test_what_is_said_of_a_room(hall, over, sound, end):
    assert told({**hall, "over_direct_db": over}, **sound) == [START + end]


def test_two_ears_are_told(hall):
    ears = "Two ears 17 cm apart, without a head between: for headphones."
    assert told(hall, stereo=True)[1:] == told(None, stereo=True) == [ears]
