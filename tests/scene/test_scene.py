"""Scenes: defaults, valves, tunes, the project folder, ranges."""

import json

import pytest
from support import scene_files
from support.scene_files import HOSE, SWEEP, TUNE

from lipmodel.air import LIMITS
from lipmodel.bore import instruments
from lipmodel.errors import SceneError

scene = scene_files.scene  # the same fixture


def test_every_default_is_filled_in(scene):
    inputs = scene(SWEEP).inputs()
    assert inputs["air"] == {
        "temperature_c": 22.0,
        "humidity_percent": 50.0,
        "co2_percent": 0.04,
        "breath": False,
    }
    assert inputs["notes"] == {"read_as": "written", "a4_hz": 440.0, "spelling": "flats"}
    assert inputs["instrument"]["valves"] == "0"
    assert inputs["player"]["tension_hz"] == [[0.0, 140.0], [12.0, 900.0]]
    assert inputs["player"]["tempo_bpm"] == 96.0
    assert inputs["lips"]["motion"] == "both"
    assert inputs["sound"] == {
        "rate_hz": 48000,
        "length_s": 4.0,
        "place": "listener",
        "floor": False,
        "room": "none",
        "bell_height_m": None,
        "stereo": False,
        "steepening": True,
        "distance_m": 1.0,
        "angle_deg": 0.0,
        "level": "matched",
        "loudness_lufs": -16.0,
        "also": [],
        "seed": 1,
    }
    assert (inputs["map"]["columns"], inputs["map"]["rows"], inputs["map"]["note_s"]) == (
        60,
        40,
        0.4,
    )
    assert json.loads(json.dumps(inputs, allow_nan=False)) == inputs


def test_a_scene_cannot_be_changed(scene):
    read = scene(SWEEP)
    with pytest.raises(ValueError, match="frozen"):
        read.title = "other"


VALVES = {'"0"': "0", '"2"': "2", '"1-3"': "13", '"1+3"': "13", "13": "13", "0": "0", '"open"': "0"}


@pytest.mark.parametrize("given", VALVES)
def test_valves_may_be_spelt_in_several_ways(scene, given):
    read = scene(SWEEP.replace("[player]", f"valves = {given}\n[player]"))
    assert read.instrument.valves == VALVES[given]


def test_a_tune_becomes_notes_in_seconds(scene):
    notes = scene(TUNE).phrase()
    assert [(n.note, n.start_s, n.length_s) for n in notes] == [
        ("C4", 0.0, 0.5),
        ("B♭4", 0.75, 1.0),
    ]
    assert {(n.valves, n.dynamic, n.pressure_kpa) for n in notes} == {("auto", "mf", None)}
    # half a second after the last note, or until a room has faded
    assert scene(TUNE).sound.length_s == pytest.approx(2.25)
    hall = scene(TUNE).replace({"sound.room": "hall"})
    assert hall.sound.length_s == pytest.approx(1.75 + 1.7)


def test_what_a_note_does_not_say_comes_from_instrument_and_player(scene):
    text = """
    [instrument]
    name = "trumpet"
    valves = "13"
    third_slide_pull_mm = 6
    [player]
    pressure_kpa = 4
    [[player.phrase]]
    note = "C4"
    [[player.phrase]]
    note = "D4"
    start_s = 1.5
    length_s = 0.5
    dynamic = "ff"
    valves = "1-3"
    third_slide_pull_mm = 0
    bend_cents = [[0, 0], [0.4, -40]]
    vibrato = { rate_hz = 5 }
    """
    one, two = scene(text).phrase()
    assert (one.start_s, one.end_s, one.pressure_kpa, one.dynamic) == (0.0, 1.0, 4.0, None)
    assert (one.valves, one.third_slide_pull_mm, one.vibrato) == ("13", 6.0, None)
    assert (two.valves, two.third_slide_pull_mm, two.pressure_kpa, two.dynamic) == (
        "13", 0.0, None, "ff",
    )  # fmt: skip
    assert two.bend_cents == ((0.0, 0.0), (0.4, -40.0))
    assert (two.vibrato.rate_hz, two.vibrato.depth_cents) == (5.0, 20.0)
    assert scene(text).sound.length_s == pytest.approx(2.5)


def test_breath_over_time_is_left_to_the_player(scene):
    read = scene(TUNE.replace("tempo", "pressure_kpa = [[0, 0], [1, 5]]\ntempo"))
    assert {(n.dynamic, n.pressure_kpa) for n in read.phrase()} == {(None, None)}
    assert read.player.pressure_kpa == ((0.0, 0.0), (1.0, 5.0))


@pytest.mark.parametrize("project_file", ["lesson.toml", "pyproject.toml"])
def test_files_may_lie_anywhere_in_the_project_folder(scene, tmp_path, project_file):
    (tmp_path / project_file).write_text("")
    (tmp_path / "hose.toml").write_text(HOSE)
    text = SWEEP.replace('name = "trumpet"', 'bore = "../hose.toml"')
    assert scene(text, "week/one.toml").spec().title == "Garden hose"


def test_without_a_project_file_they_lie_beside_the_scene(scene, tmp_path):
    (tmp_path / "hose.toml").write_text(HOSE)
    text = SWEEP.replace('name = "trumpet"', 'bore = "../hose.toml"')
    with pytest.raises(SceneError, match="outside the scene's project folder"):
        scene(text, "week/one.toml")


def test_a_link_does_not_lead_out_of_the_project_folder(scene, tmp_path):
    (tmp_path / "hose.toml").write_text(HOSE)
    (tmp_path / "week").mkdir()
    (tmp_path / "week" / "hose.toml").symlink_to(tmp_path / "hose.toml")
    text = SWEEP.replace('name = "trumpet"', 'bore = "hose.toml"')
    with pytest.raises(SceneError, match="outside the scene's project folder"):
        scene(text, "week/one.toml")


def test_a_part_may_be_a_bore_file(scene, tmp_path):
    (tmp_path / "hose.toml").write_text(HOSE)
    read = scene(SWEEP.replace("[player]", 'bell = "hose.toml"\n[player]'))
    assert [(s.label, s.shape) for s in read.spec().section][-1] == ("bell", "cylinder")


def test_a_mouthpiece_fits_a_bore_without_one(scene, tmp_path):
    (tmp_path / "hose.toml").write_text(HOSE)
    read = scene(SWEEP.replace('name = "trumpet"', 'bore = "hose.toml"\nmouthpiece = "deep"'))
    deep = instruments.part("mouthpiece", "deep").section[0]
    assert read.spec().section[0] == deep


def test_scenes_and_air_agree_on_what_air_there_is(scene):
    low, high = LIMITS["celsius"]
    for celsius in (low, high):
        read = scene(SWEEP + f"[air]\ntemperature_c = {celsius}\nco2_percent = 5\n")
        assert read.air.temperature_c == celsius
    assert LIMITS["co2"] == (0.0, 0.05)


RANGES = {
    "pressure low": ("pressure_kpa = 5", "pressure_kpa = 0"),
    "pressure high": ("pressure_kpa = 5", "pressure_kpa = 40"),
    "tension low": ("140", "20"),
    "tension high": ("900", "2000.0"),
    "rate low": ("[player]", "[sound]\nrate_hz = 22050\n[player]"),
    "rate high": ("[player]", "[sound]\nrate_hz = 192000\n[player]"),
    "length low": ("[player]", "[sound]\nlength_s = 0.05\n[player]"),
    "loudness high": ("[player]", "[sound]\nloudness_lufs = -5\n[player]"),
    "tuning slide": ("[player]", "tuning_slide_pull_mm = 200\n[player]"),
}


@pytest.mark.parametrize("row", RANGES.values(), ids=RANGES)
def test_both_ends_of_a_range_are_allowed(scene, row):
    assert row[0] in SWEEP
    assert scene(SWEEP.replace(*row)).variants
