"""Scenes: defaults, variants, valves, tunes, the project folder, the starter files."""

import json
import tomllib

import pytest

from lipmodel.air import LIMITS
from lipmodel.bore import instruments
from lipmodel.bore.bore_file import parse_bore
from lipmodel.errors import SceneError
from lipmodel.scene import starters
from lipmodel.scene.scene import read_scene
from lipmodel.scene.variants import merge, slug

SWEEP = """
[instrument]
name = "trumpet"
[player]
pressure_kpa = 5
tension_hz = [[0, 140], [12, 900]]
"""
TUNE = """
[instrument]
name = "trumpet"
[player]
tune = "C4 1, - 0.5, B♭4 2"
tempo_bpm = 120
"""
HOSE = """
title = "Garden hose"
[[section]]
shape = "cylinder"
length_mm = 3000
diameter_mm = 12.5
"""


@pytest.fixture
def scene(tmp_path):
    """A function from text to the scene that it makes."""

    def read(text: str, name: str = "harbour.toml"):
        file = tmp_path / name
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(text, "utf-8")
        return read_scene(file)

    return read


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


def test_the_first_variant_is_the_scene_itself(scene):
    read = scene(SWEEP)
    assert [(v.name, v.scene, v.changed) for v in read.variants] == [("as written", read, ())]


def test_a_variant_replaces_only_its_own_keys(scene):
    more = """
    [[variant]]
    name = "No bell, warm"
    instrument.bell = "none"
    air.temperature_c = 30
    player.pressure_kpa = 5.0
    """
    read = scene(SWEEP + more)
    _, warm = read.variants
    assert warm.folder == "no-bell-warm"
    assert warm.changed == ("instrument.bell: as written -> none", "air.temperature_c: 22 -> 30")
    assert warm.scene.inputs()["player"] == read.inputs()["player"]
    assert [s.label for s in warm.scene.spec().section] == ["mouthpiece", "leadpipe", "cylinder"]
    assert [s.label for s in read.spec().section][-1] == "bell"
    assert warm.scene.path == read.path
    assert read.variants[0].scene.air.temperature_c == 22.0


def test_a_variant_may_put_one_way_of_saying_it_for_another(scene, tmp_path):
    (tmp_path / "hose.toml").write_text(HOSE)
    more = """
    [[variant]]
    name = "hose"
    instrument.bore = "hose.toml"
    player.tune = "C4 1"
    """
    _, hose = scene(SWEEP + more).variants
    assert hose.scene.spec().title == "Garden hose"
    assert hose.scene.instrument.name is None
    assert hose.scene.player.tension_hz is None
    assert hose.changed[0] == "instrument.bore: trumpet -> hose.toml"


def test_merging_leaves_what_it_was_given_alone():
    data = {"air": {"breath": True, "co2_percent": 1}, "title": "a"}
    merged = merge(data, {"air": {"breath": False}})
    assert merged == {"air": {"breath": False, "co2_percent": 1}, "title": "a"}
    assert data["air"]["breath"] is True


SLUGS = {"No bell!": "no-bell", "  Übung 3/4 ": "ubung-3-4", "a__b": "a-b", "!!": "", "../x": "x"}


@pytest.mark.parametrize("written", SLUGS)
def test_a_variant_name_becomes_a_folder_name(written):
    assert slug(written) == SLUGS[written]


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
    # half a second after the last note
    assert scene(TUNE).sound.length_s == pytest.approx(2.25)


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


@pytest.mark.parametrize("kind", ["note", "slots", "compare", "tune"])
def test_a_starter_is_a_good_scene(scene, kind):
    read = scene(starters.text(kind))
    assert read.title
    assert len(read.variants) == (3 if kind == "compare" else 1)


def test_the_other_starters_are_good_too():
    bore = parse_bore(tomllib.loads(starters.text("bore")), "bore.toml", ".")
    assert [s.label for s in bore.section] == ["mouthpiece", "hose", "bell"]
    lesson = tomllib.loads(starters.text("lesson"))
    assert list(lesson) == ["title", "intro", "scenes"]
    assert {f"{kind}.toml" for kind in starters.KINDS} >= set(lesson["scenes"])
    with pytest.raises(SceneError, match="did you mean slots"):
        starters.text("slot")
