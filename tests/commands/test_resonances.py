"""`lipmodel resonances`: series, pictures, measured curves, and what it cannot do."""

import json
import re
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from support import answers
from support.answers import answer, assert_refused
from support.music import cents

from lipmodel.air import Air
from lipmodel.bore import instruments
from lipmodel.commands.main import main

scene = answers.scene  # the same fixture


# resonances


def test_resonances_have_the_keys_of_the_contract(capsys):
    found = answer(capsys, "resonances", "trumpet")
    assert {"what", "air", "series", "brassiness"} <= set(found)
    assert set(found["air"]) >= {"temperature_c", "sound_speed_m_s", "density_kg_m3"}
    assert found["air"]["temperature_c"] == 22.0
    assert found["air"]["sound_speed_m_s"] == pytest.approx(Air.at(22.0).sound_speed)
    (series,) = found["series"]
    assert (series["valves"], series["slide_position"]) == ("0", 1.0)
    rows = series["resonances"]
    assert [r["n"] for r in rows] == list(range(1, len(rows) + 1))
    for row in rows:
        numbers = ("frequency_hz", "magnitude_pa_s_m3", "cents", "cents_from_harmonic")
        assert all(type(row[key]) is float for key in numbers)
        assert {"quality", "sounding", "written"} <= set(row)
    assert [r["written"] for r in rows[1:6]] == ["C4", "G4", "C5", "E5", "G5"]
    assert 0.3 < found["brassiness"] < 0.9  # A. Myers et al. (2010), from memory: trumpets


def test_all_valves_give_seven_series_each_a_semitone_lower(capsys):
    series = answer(capsys, "resonances", "trumpet", "--valves", "all")["series"]
    assert [s["valves"] for s in series] == ["0", "2", "1", "12", "23", "13", "123"]
    fourth = [s["resonances"][3]["frequency_hz"] for s in series]
    steps = [cents(a, b) for a, b in pairwise(fourth)]
    # valves are compromises: combinations come out sharp, single ones right within 20 cents
    assert steps == pytest.approx([100] * 6, abs=35)
    assert -600 < cents(fourth[-1], fourth[0]) < -520


def test_every_series_tells_how_sharp_it_is(capsys):
    found = answer(capsys, "resonances", "trumpet", "--valves", "all")["series"]
    sharp = {s["valves"]: s["sharp_cents"] for s in found}
    assert sharp["0"] == 0
    # a compromise between valves right alone (+54, +30) and right together; own lengths
    assert 25 < sharp["123"] < 45
    assert 5 < sharp["13"] < 25
    assert abs(sharp["2"]) < 5


def test_all_positions_of_a_slide_are_series(capsys):
    found = answer(capsys, "resonances", "trombone", "--valves", "all")["series"]
    assert [s["slide_position"] for s in found] == [1, 2, 3, 4, 5, 6, 7]
    fourth = [s["resonances"][3]["frequency_hz"] for s in found]
    # tube by the tube's whole length: which the bell makes a little too little
    assert [cents(a, b) for a, b in pairwise(fourth)] == pytest.approx([98] * 6, abs=6)


def test_a_colder_tube_is_flatter_by_the_published_cents_per_degree(capsys):
    def rows(celsius):
        found = answer(capsys, "resonances", "trumpet", "--celsius", celsius)
        assert found["air"]["temperature_c"] == float(celsius)
        return [r["frequency_hz"] for r in found["series"][0]["resonances"][1:8]]

    change = [cents(w, c) for w, c in zip(rows("25"), rows("15"), strict=True)]
    # f grows like c, c like sqrt(T) in dry air: 600/(ln 2 T) = 2.95 cents a degree at 20 degrees
    # C (textbook); at 50 % humidity the vapour adds 0.13 (from Air, which has tests of its own)
    speeds = cents(Air.at(25.0).sound_speed, Air.at(15.0).sound_speed)
    dry = cents(Air.at(25.0, 0.0).sound_speed, Air.at(15.0, 0.0).sound_speed)
    assert dry / 10 == pytest.approx(600 / (np.log(2) * 293.15), abs=0.01)
    # the walls slow the low resonances more, and warm air more: measured 0.073 cent a degree less
    # for the second resonance, 0.023 for the eighth
    assert np.array(change) / 10 == pytest.approx(speeds / 10, abs=0.1)
    assert speeds / 10 == pytest.approx(3.1, abs=0.05)


def test_a_scene_brings_its_own_valves_and_air(capsys, scene):
    own = answer(capsys, "resonances", str(scene))
    assert own["air"]["temperature_c"] == 30.0
    assert own["series"][0]["valves"] == "13"
    asked = answer(capsys, "resonances", str(scene), "--valves", "0", "--celsius", "22")
    plain = answer(capsys, "resonances", "trumpet")
    assert asked["series"] == plain["series"]


def test_a_bore_file_is_taken_as_it_is(tmp_path, capsys):
    path = tmp_path / "pipe.toml"
    path.write_text(
        'end = "closed"\n[[section]]\nshape = "cylinder"\nlength_mm = 1000\ndiameter_mm = 20\n'
    )
    found = answer(capsys, "resonances", str(path))
    rows = found["series"][0]["resonances"]
    # closed at both ends: n c/(2 L), lowered by the walls, the less the higher
    speed = found["air"]["sound_speed_m_s"]
    for n in (5, 8, 11):
        assert cents(rows[n - 1]["frequency_hz"], n * speed / 2) == pytest.approx(-10, abs=10)
    assert found["brassiness"] == pytest.approx(1.0)


@pytest.mark.parametrize("name", ["mouthpiece", "hailing_cone", "pipe", "cone"])
def test_every_teaching_bore_has_resonances(capsys, name):
    found = answer(capsys, "resonances", name)
    assert len(found["series"][0]["resonances"]) >= 1
    assert (found["brassiness"] is None) == (name == "mouthpiece")


def test_resonances_are_listed_for_people(capsys):
    assert main(["resonances", "trumpet", "--valves", "2"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0] == "School trumpet, valves 2, 22 degrees C"
    assert " ".join(lines[1].split()) == "n Hz MPa s/m3 Q written sounding cents from its series"
    row = lines[5].split()
    assert (row[0], row[4], row[5]) == ("4", "B4", "A4")
    assert row[-2] in ("flat", "sharp", "tune")
    assert abs(float(row[-1])) < 15  # cents from the harmonic series of its own


@pytest.fixture(scope="session")
def written(tmp_path_factory):
    """A folder of `resonances --out`, with a measured curve laid over."""
    at = tmp_path_factory.mktemp("resonances")
    measured = at / "measured.csv"
    measured.write_text("frequency_hz,magnitude_pa_s_m3\n100,1e7\n230,5e7\n400,2e7\n")
    argv = ["resonances", "trumpet", "--out", str(at / "out"), "--against", str(measured)]
    assert main(argv) == 0
    assert main(argv[:4]) == 0
    return at


def test_a_picture_and_the_impedance_are_written(written, capsys):
    folder = written / "out"
    assert sorted(p.name for p in folder.iterdir()) == [
        "impedance.csv",
        "picture.png",
        "resonances.json",
    ]
    lines = (folder / "impedance.csv").read_text().splitlines()
    assert lines[0] == "frequency_hz,real_pa_s_m3,imaginary_pa_s_m3"
    table = np.loadtxt(folder / "impedance.csv", delimiter=",", skiprows=1)
    assert np.diff(table[:, 0]) == pytest.approx(0.5)
    assert np.all(table[:, 1] > 0)  # nothing gives back more than it gets
    found = answer(capsys, "resonances", "trumpet")
    assert json.loads((folder / "resonances.json").read_text()) == found
    # a peak of the table for the fourth resonance, to the table's half hertz
    row = found["series"][0]["resonances"][3]
    near = table[np.abs(table[:, 0] - row["frequency_hz"]) < 20]
    size = np.hypot(near[:, 1], near[:, 2])
    assert near[np.argmax(size), 0] == pytest.approx(row["frequency_hz"], abs=0.5)
    assert np.max(size) == pytest.approx(row["magnitude_pa_s_m3"], rel=1e-3)


def test_a_measured_curve_changes_the_picture(written):
    now, before = (written / f / "picture.png" for f in ("out", "out.previous"))
    assert now.read_bytes() != before.read_bytes()
    assert now.read_bytes().startswith(b"\x89PNG")


COLUMNS = (
    "expected columns frequency_hz, magnitude_pa_s_m3 or frequency_hz, real, imaginary, "
    "at least two rows"
)
BAD_CURVES = {
    "empty": (b"", COLUMNS),
    "words": (b"a,b\nc,d\n", COLUMNS),
    "one row": (b"100,1e6\n", COLUMNS),
    "one column": (b"100\n200\n", COLUMNS),
    "four columns": (b"1,2,3,4\n2,3,4,5\n", COLUMNS),
    "semicolons": (b"100;1\n200;2\n", COLUMNS),
    "negative": (b"100,1\n200,-5\n", "expected frequencies and magnitudes above 0"),
    "zero": (b"0,1\n200,5\n", "expected frequencies and magnitudes above 0"),
    "ragged": (b"1,2\n3\n", r"cannot be read as CSV \(.*Line #2.*\)"),
    "not text": (b"\xff\xfe\x00", r"cannot be read as CSV \(.*decode.*\)"),
}


@pytest.mark.parametrize(("content", "message"), BAD_CURVES.values(), ids=BAD_CURVES)
def test_a_curve_that_cannot_be_laid_over_is_refused(tmp_path, capsys, content, message):
    path = tmp_path / "measured.csv"
    path.write_bytes(content)
    argv = ["resonances", "pipe", "--against", path, "--out", tmp_path / "out"]
    assert_refused(capsys, argv, re.escape(f"{path}: ") + message)
    assert not (tmp_path / "out").exists()


def test_a_curve_may_have_real_and_imaginary_part(tmp_path):
    path = tmp_path / "measured.csv"
    path.write_text("# from the harbour\n100,3e6,4e6\n200,-6e6,8e6\n")
    from lipmodel.commands.resonances import _measured

    frequency, size = _measured(path)
    assert list(frequency) == [100, 200]
    assert list(size) == [5e6, 1e7]


KNOWN = f"expected one of {', '.join(instruments.names())}"
REFUSED = {
    "unknown instrument": (["tromba"], "tromba: expected one of .*trumpet.*, a bore file or a .*"),
    "nearly known": (["trumpit"], r'trumpit: expected one of .*did you mean "?trumpet"?.*'),
    "no such file": (["nowhere.toml"], "nowhere.toml: no such file"),
    "long name": (["x" * 5000], "x+: expected one of .*"),
    "too cold": (["trumpet", "--celsius=-1"], "--celsius -1: expected a number from 0 to 40 .*"),
    "too warm": (["trumpet", "--celsius", "40.1"], "--celsius 40.1: expected a number from 0 .*"),
    "nan": (["trumpet", "--celsius", "nan"], "--celsius nan: expected a number from 0 to 40 .*"),
    "no such valve": (["trumpet", "--valves", "4"], "no valve 4 on .*"),
    "no valves": (["pipe", "--valves", "1"], '.* has no valves; expected "0"'),
    "no valve at all": (["trumpet", "--valves", "x"], "--valves x: expected valves such as .*"),
    "here": (["pipe", "--out", "."], r"\.: holds the folder you are in; expected .*"),
    "root": (["pipe", "--out", "/"], "/: holds the folder you are in; expected .*"),
    "no measured curve": (
        ["pipe", "--against", "no.csv", "--out", "x"],
        "no.csv: no such file",
    ),
    "no folder": (
        ["pipe", "--against", "no.csv"],
        "--against: expected --out DIR too, where the picture goes",
    ),
}


@pytest.mark.parametrize(("words", "message"), REFUSED.values(), ids=REFUSED)
def test_what_resonances_cannot_do_it_says_in_one_line(
    tmp_path, capsys, monkeypatch, words, message
):
    monkeypatch.chdir(tmp_path)
    assert_refused(capsys, ["resonances", *words], message)
    assert list(Path().iterdir()) == []


def test_a_folder_of_ones_own_is_never_replaced(tmp_path, capsys):
    diary = tmp_path / "mine" / "diary.txt"
    diary.parent.mkdir()
    diary.write_text("dear diary")
    message = re.escape(f"{diary.parent}: holds other files (diary.txt); expected ") + ".*"
    assert_refused(capsys, ["resonances", "pipe", "--out", diary.parent], message)
    assert diary.read_text() == "dear diary"


VARIANTS = """
[instrument]
name = "trumpet"
[player]
tune = "C4 1"
[[variant]]
name = "no bell"
instrument.bell = "none"
[[variant]]
name = "valve"
instrument.valves = "2"
"""


def test_a_variant_is_shown_by_its_name_and_all_of_them(tmp_path, capsys):
    path = tmp_path / "scene.toml"
    path.write_text(VARIANTS)
    alone = answer(capsys, "resonances", str(path))
    assert alone["variant"] == "as written"
    other = answer(capsys, "resonances", str(path), "--variant", "no bell")
    assert other["variant"] == "no bell"
    first = [one["series"][0]["resonances"][1]["frequency_hz"] for one in (alone, other)]
    assert first[1] > 1.1 * first[0]  # without its bell the tube is half as long
    every = answer(capsys, "resonances", str(path), "--variant", "all")
    assert [one["variant"] for one in every["variants"]] == ["as written", "no bell", "valve"]
    assert every["variants"][1]["series"] == other["series"]
    assert every["series"] == alone["series"]
    folder = tmp_path / "out"
    assert main(["resonances", str(path), "--variant", "all", "--out", str(folder)]) == 0
    assert sorted(p.name for p in folder.iterdir()) == ["as-written", "no-bell", "valve"]
    told = capsys.readouterr().out
    assert f"{path}: no bell; --variant shows 2 others: as written, valve" in told


def test_a_variant_that_is_not_there_is_refused(tmp_path, capsys):
    path = tmp_path / "scene.toml"
    path.write_text(VARIANTS)
    told = r'--variant "x": expected one of "as written", "no bell", "valve", all'
    assert_refused(capsys, ["resonances", path, "--variant", "x"], told)
    told = "--variant x: trumpet is no scene; expected a scene"
    assert_refused(capsys, ["resonances", "trumpet", "--variant", "x"], told)
