"""Broken bore files and the exact sentence for each: place, value, way out."""

import pytest
from support import messages
from support.messages import PIPE

from lipmodel.bore.bore_file import parse_bore, read_bore_file
from lipmodel.errors import SceneError

told = messages.told  # the same fixture

CUP = """\
[[section]]
shape = "mouthpiece"
rim_diameter_mm = 16.3
cup_depth_mm = 9
cup_volume_ml = 1.39
throat_diameter_mm = 3.66
throat_length_mm = 3.5
backbore_length_mm = 65
backbore_end_diameter_mm = 9.2
"""
HORN = """\
[[section]]
shape = "bessel"
length_mm = 500
start_diameter_mm = 12
end_diameter_mm = 120
flare = 0.7
"""
POINTS = """\
[[section]]
shape = "points"
points_mm = [[0, 10], [50, 12]]
"""
BAD_BORES = {  # file text, exact message
    "negative length": (
        PIPE.replace("700", "-5"),
        "hose.toml: section[1].length_mm = -5: expected a number from 0.01 to 20000 mm",
    ),
    "zero diameter": (
        PIPE.replace("= 12", "= 0"),
        "hose.toml: section[1].diameter_mm = 0: expected a number from 0.5 to 2000 mm",
    ),
    "too long": (
        PIPE.replace("700", "20001"),
        "hose.toml: section[1].length_mm = 20001: expected a number from 0.01 to 20000 mm",
    ),
    "no diameter": (
        PIPE.replace("diameter_mm = 12\n", ""),
        "hose.toml: section[1].diameter_mm: missing; expected a number from 0.5 to 2000 mm",
    ),
    "no shape": (
        PIPE.replace('shape = "cylinder"\n', ""),
        "hose.toml: section[1].shape: missing; expected one of mouthpiece, cylinder, "
        "cone, bessel, exponential, points",
    ),
    "unknown shape": (
        PIPE.replace('"cylinder"', '"cylindre"'),
        'hose.toml: section[1].shape = "cylindre": expected one of mouthpiece, '
        "cylinder, cone, bessel, exponential, points; did you mean cylinder?",
    ),
    "unknown key of a section": (
        PIPE + "lenght_mm = 3\n",
        "hose.toml: section[1].lenght_mm: unknown key; did you mean section[1].length_mm?",
    ),
    "no section": (
        PIPE.replace(PIPE, 'title = "nothing"\n'),
        "hose.toml: section: missing; expected at least one [[section]]",
    ),
    "shorter than a thimble": (
        PIPE.replace("700", "5"),
        "hose.toml: section: the whole bore is 5 mm long; expected from 10 to 50000 mm",
    ),
    "end": (
        PIPE.replace("[[section]]", 'end = "open"\n[[section]]'),
        'hose.toml: end = "open": expected one of unflanged, flanged, closed, node',
    ),
    "pitch": (
        PIPE.replace("[[section]]", 'pitched_in = "H"\n[[section]]'),
        'hose.toml: pitched_in = "H": expected a note without octave, such as "C", "Bb" or "F#"',
    ),
    "compass": (
        PIPE.replace("[[section]]", 'compass = ["C5", "C4"]\n[[section]]'),
        'hose.toml: compass = ["C5", "C4"]: expected the lower note first',
    ),
    "bessel that narrows": (
        HORN.replace("= 120", "= 10"),
        "hose.toml: section[1].end_diameter_mm = 10: expected more than the start's "
        "12 mm; a bessel horn widens; 100.0 mm?",
    ),
    "cup volume out of reach": (
        CUP.replace("1.39", "3"),
        "hose.toml: section[1].cup_volume_ml = 3: out of reach; this rim, depth and "
        "throat allow 0.525 to 1.848 ml",
    ),
    "throat wider than the rim": (
        CUP.replace("= 3.66", "= 17"),
        "hose.toml: section[1].throat_diameter_mm = 17: expected less than the rim's 16.3 mm",
    ),
    "mouthpiece at the end": (
        PIPE + CUP,
        'hose.toml: section[2].shape = "mouthpiece": expected it to be the first section',
    ),
    "valve without length": (
        PIPE + "valves = [[1, 100]]\n",
        "hose.toml: section[1].valves[1] = [1, 100]: expected first_mm, the tube it "
        "adds, in [valves]",
    ),
    "length without valve": (
        PIPE + "[valves]\nfirst_mm = 100\n",
        "hose.toml: valves.first_mm = 100: no place in the bore; expected valves = "
        "[[1, place_mm]] in a cylinder",
    ),
    "valve outside its cylinder": (
        PIPE + "valves = [[1, 800]]\n[valves]\nfirst_mm = 100\n",
        "hose.toml: section[1].valves[1][2] = 800: expected a place inside the section's 700 mm",
    ),
    "valve twice": (
        PIPE + "valves = [[1, 100], [1, 200]]\n[valves]\nfirst_mm = 100\n",
        "hose.toml: section[1].valves[2] = [1, 200]: expected valve 1 once in a bore",
    ),
    "valve 5": (
        PIPE + "valves = [[5, 100]]\n",
        "hose.toml: section[1].valves[1] = [5, 100]: expected [valve, place_mm], "
        "such as [1, 120.0], valves 1 to 4",
    ),
    "two slides": (
        PIPE + "slide = true\n" + PIPE + "slide = true\n",
        "hose.toml: section[2].slide = true: expected once in a bore",
    ),
    "points that turn back": (
        POINTS.replace("[50, 12]", "[50, 12], [40, 12]"),
        "hose.toml: section[1].points_mm[3][1] = 40: expected 50 mm or more: x never falls",
    ),
    "points that start late": (
        POINTS.replace("[0, 10]", "[1, 10]"),
        "hose.toml: section[1].points_mm[1][1] = 1: expected 0: the points start at "
        "the section's start",
    ),
    "three points at one place": (
        POINTS.replace("[50, 12]", "[50, 12], [50, 13], [50, 14]"),
        "hose.toml: section[1].points_mm[4][1] = 50: expected more than 50 mm: at "
        "most two points at one place",
    ),
    "one point": (
        POINTS.replace(", [50, 12]", ""),
        "hose.toml: section[1].points_mm = [[0, 10]]: expected a list of at least "
        "two [x, diameter]",
    ),
    "points and file": (
        POINTS + 'file = "profile.csv"\n',
        'hose.toml: section[1].file = "profile.csv": expected points_mm or file, not both',
    ),
    "neither points nor file": (
        POINTS.replace("points_mm = [[0, 10], [50, 12]]\n", ""),
        "hose.toml: section[1].points_mm: missing; expected points_mm or file",
    ),
    "profile above the folder": (
        POINTS.replace("points_mm = [[0, 10], [50, 12]]", 'file = "../profile.csv"'),
        'hose.toml: section[1].file = "../profile.csv": outside the bore file\'s '
        "folder; expected a file inside it, or --allow-outside",
    ),
    "profile with a word": (
        POINTS.replace("points_mm = [[0, 10], [50, 12]]", 'file = "bad.csv"'),
        "bad.csv: line 3: expected two numbers, x_mm,diameter_mm",
    ),
    "profile that turns back": (
        POINTS.replace("points_mm = [[0, 10], [50, 12]]", 'file = "back.csv"'),
        "back.csv: point 3: 40.0: expected 50 mm or more: x never falls",
    ),
}


@pytest.mark.parametrize("row", BAD_BORES.values(), ids=BAD_BORES)
def test_a_bad_bore_file_is_told_in_one_exact_sentence(told, row):
    text, message = row
    assert told(read_bore_file, "hose.toml", text) == message


@pytest.mark.parametrize("text", [PIPE, CUP, HORN, POINTS])
def test_the_bores_that_are_broken_here_are_good(tmp_path, text):
    (tmp_path / "hose.toml").write_text(text)
    assert read_bore_file(tmp_path / "hose.toml").section


# whatever a key may be given: a sentence, never a traceback
ODD = [True, -1, 10**400, float("nan"), "", "\0", [], [[]], [[1, 2], "x"], {}, {"a": {}}, [{}]]
KEYS = ("title", "end", "pitched_in", "compass", "valves", "section", "slide_travel_mm", "kind")


@pytest.mark.parametrize("key", KEYS)
def test_an_odd_value_never_gets_past_as_anything_but_a_sentence(key):
    good = {"section": [{"shape": "cylinder", "length_mm": 700, "diameter_mm": 12}]}
    told = []
    for value in ODD:
        try:
            parse_bore({**good, key: value}, "hose.toml", ".")
        except SceneError as error:
            told.append(error.problems)
    assert len(told) >= 9  # a text may be empty, a list of valves too
    assert all(p.startswith("hose.toml: ") for problems in told for p in problems)
