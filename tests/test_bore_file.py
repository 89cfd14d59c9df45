"""Bore files: shapes against closed forms, tube put in, parts changed, built-in instruments."""

from itertools import pairwise

import numpy as np
import pytest
from scipy.special import beta

from lipmodel.bore import instruments
from lipmodel.bore.assembly import junctions, read_bore, to_bore
from lipmodel.bore.bore_file import parse_bore, read_bore_file
from lipmodel.bore.parts import parts, with_part, without_part
from lipmodel.bore.shapes import bessel, cup, cup_of_exponent, exponential, frusta_volume
from lipmodel.bore.valves import parse_valves, valve_length
from lipmodel.errors import SceneError

# what a hundred straight pieces leave of a curve, asked for by the contract
VOLUME = 1e-4


def bore_of(*sections, **top):
    return to_bore(parse_bore({"section": list(sections), **top}, "test.toml", "."))


def cylinder(**more):
    return {"shape": "cylinder", "length_mm": 700.0, "diameter_mm": 12.0, **more}


CUP = {
    "shape": "mouthpiece",
    "rim_diameter_mm": 16.3,
    "cup_depth_mm": 9.0,
    "cup_volume_ml": 1.39,
    "throat_diameter_mm": 3.66,
    "throat_length_mm": 3.5,
    "backbore_length_mm": 65.0,
    "backbore_end_diameter_mm": 9.2,
}


def test_a_cylinder_and_a_cone_are_exact():
    cone = {"shape": "cone", "length_mm": 300, "start_diameter_mm": 12, "end_diameter_mm": 60}
    bore = bore_of(cylinder(), cone)
    expected = np.pi * 0.006**2 * 0.7 + np.pi / 3 * 0.3 * (0.006**2 + 0.006 * 0.03 + 0.03**2)
    assert bore.length == pytest.approx(1.0, rel=1e-12)
    assert bore.volume == pytest.approx(expected, rel=1e-12)
    assert [(s.name, s.shape) for s in bore.sections] == [("cylinder",) * 2, ("cone",) * 2]
    assert bore.sections[1].start == bore.sections[0].end == pytest.approx(0.7)


@pytest.mark.parametrize("exponent", [0.5, 1.7, 4.0])
def test_the_cup_agrees_with_its_integral(exponent):
    rim, throat, depth = 8e-3, 2e-3, 10e-3
    x, radius = cup_of_exponent(rim, throat, depth, exponent)
    d, m = rim - throat, exponent
    # integral of (throat + d sqrt(1 - t^m))^2, with B the beta function
    exact = throat**2 + 2 * throat * d * beta(1 / m, 1.5) / m + d**2 * m / (m + 1)
    assert frusta_volume(x, radius) == pytest.approx(np.pi * depth * exact, rel=VOLUME)
    assert (radius[0], radius[-1], x[-1]) == pytest.approx((rim, throat, depth))
    middle = np.searchsorted(x, 0.4 * depth)
    t = x[middle] / depth
    assert radius[middle] == pytest.approx(throat + d * np.sqrt(1 - t**m), rel=1e-12)


def test_the_cup_has_the_volume_that_the_file_says():
    x, radius = cup(8.15e-3, 1.83e-3, 9e-3, 1.39e-6)
    # bisection down to round-off
    assert frusta_volume(x, radius) == pytest.approx(1.39e-6, rel=1e-9)


def test_a_mouthpiece_is_cup_throat_and_backbore():
    bore = bore_of(CUP)
    throat = np.pi * 1.83e-3**2 * 3.5e-3
    backbore = np.pi / 3 * 65e-3 * (1.83e-3**2 + 1.83e-3 * 4.6e-3 + 4.6e-3**2)
    assert bore.volume == pytest.approx(1.39e-6 + throat + backbore, rel=1e-9)
    assert bore.length == pytest.approx(77.5e-3, rel=1e-12)
    assert bore.radius_at([9e-3, 12e-3]) == pytest.approx([1.83e-3, 1.83e-3])
    assert bore.radius[[0, -1]] == pytest.approx([8.15e-3, 4.6e-3])


BESSEL = {
    "trumpet-like": (0.56, 5.83e-3, 61e-3, 0.6),
    "half": (0.56, 5.83e-3, 61e-3, 0.5),
    "slow": (0.4, 8e-3, 30e-3, 1.5),
    "sudden": (0.5, 6e-3, 40e-3, 0.3),
}


@pytest.mark.parametrize("shape", BESSEL.values(), ids=BESSEL)
def test_a_bessel_horn_agrees_with_its_integral(shape):
    length, start, end, flare = shape
    x, radius = bessel(*shape)
    x0 = length / ((end / start) ** (1 / flare) - 1)
    b = end * x0**flare
    q = 1 - 2 * flare
    integral = np.log((length + x0) / x0) if q == 0 else ((length + x0) ** q - x0**q) / q
    assert frusta_volume(x, radius) == pytest.approx(np.pi * b**2 * integral, rel=VOLUME)
    assert radius == pytest.approx(b * (length - x + x0) ** -flare, rel=1e-9)
    assert (x[0], x[-1], radius[0], radius[-1]) == (0.0, length, start, end)
    assert np.all(np.diff(x) > 0)


@pytest.mark.parametrize("end", [50e-3, 2e-3])
def test_an_exponential_horn_agrees_with_its_integral(end):
    start, length = 6e-3, 0.4
    x, radius = exponential(length, start, end)
    exact = np.pi * length * (end**2 - start**2) / (2 * np.log(end / start))
    assert frusta_volume(x, radius) == pytest.approx(exact, rel=VOLUME)
    assert radius[150] == pytest.approx(np.sqrt(start * end))


def test_points_keep_their_steps(tmp_path):
    points = [[0, 10], [100, 10], [100, 20], [250, 30]]
    bore = bore_of({"shape": "points", "points_mm": points})
    assert bore.x.tolist() == pytest.approx([0, 0.1, 0.1, 0.25])
    assert bore.radius.tolist() == pytest.approx([0.005, 0.005, 0.01, 0.015])
    (tmp_path / "profile.csv").write_text("x_mm,diameter_mm\n0,10\n100,10\n100,20\n\n250,30\n")
    file = tmp_path / "hose.toml"
    file.write_text('[[section]]\nshape = "points"\nfile = "profile.csv"\n')
    assert read_bore(file).radius.tolist() == bore.radius.tolist()


TRUMPET = instruments.spec("trumpet")


def test_valve_tube_is_put_in_at_its_mark():
    top = {"valves": {"first_mm": 160.0, "second_mm": 80.0}}
    tube = cylinder(valves=[[2, 150.0], [1, 120.0]])
    cone = {"shape": "cone", "length_mm": 300, "start_diameter_mm": 12, "end_diameter_mm": 60}
    spec = parse_bore({"section": [tube, cone], **top}, "test.toml", ".")
    bore = to_bore(spec, valves={1, 2})
    assert bore.length == pytest.approx(1.24)
    assert dict(bore.marks) == pytest.approx({"valve 1": 0.12, "valve 2": 0.31})
    assert bore.sections[0].end == pytest.approx(0.94)
    assert bore.volume - to_bore(spec).volume == pytest.approx(np.pi * 0.006**2 * 0.24)
    assert dict(to_bore(spec, valves={2}).marks) == pytest.approx(
        {"valve 1": 0.12, "valve 2": 0.15}
    )
    assert valve_length(spec, "12") == pytest.approx(0.24)


PULLS = {  # keywords, tube in mm beyond the open trumpet
    "tuning slide": ({"tuning_slide_pull_mm": 7.0}, 14.0),
    "first, not pressed": ({"first_slide_pull_mm": 5.0}, 0.0),
    "first": ({"first_slide_pull_mm": 5.0, "valves": {1}}, 168.6 + 10.0),
    "third": ({"third_slide_pull_mm": 4.0, "valves": {1, 3}}, 168.6 + 263.0 + 8.0),
    "third with the second pressed": ({"third_slide_pull_mm": 4.0, "valves": {2}}, 81.9),
}


@pytest.mark.parametrize("row", PULLS.values(), ids=PULLS)
def test_a_pulled_slide_adds_twice_its_pull(row):
    how, added = row
    spec = TRUMPET.model_copy(
        update={"valves": type(TRUMPET.valves)(first_mm=168.6, second_mm=81.9, third_mm=263.0)}
    )
    assert to_bore(spec, **how).length - to_bore(spec).length == pytest.approx(added / 1000)


def test_each_slide_position_lowers_by_a_semitone():
    spec = parse_bore({"section": [cylinder(slide=True)]}, "test.toml", ".")
    lengths = [to_bore(spec, slide_position=p).length for p in range(1, 8)]
    assert [b / a for a, b in pairwise(lengths)] == pytest.approx([2 ** (1 / 12)] * 6)
    assert to_bore(spec, slide_position=3).marks == (("slide", pytest.approx(0.35)),)
    short = spec.model_copy(update={"slide_travel_mm": 100.0})
    with pytest.raises(SceneError, match=r"position 7 needs 145 mm of slide; this bore has 100 mm"):
        to_bore(short, slide_position=7)


SPELLINGS = {
    "0": "0",
    "open": "0",
    0: "0",
    "2": "2",
    "1-3": "13",
    "1+3": "13",
    13: "13",
    "31": "13",
}


@pytest.mark.parametrize("given", SPELLINGS)
def test_valves_may_be_spelt_in_several_ways(given):
    assert parse_valves(given) == SPELLINGS[given]


@pytest.mark.parametrize("given", ["", "5", "11", "x", True, 1.0, -1, None, "1 3", "0 1"])
def test_other_valves_are_refused(given):
    with pytest.raises(ValueError, match="expected valves such as"):
        parse_valves(given)


def test_parts_are_taken_away_put_back_and_exchanged():
    assert parts(TRUMPET) == ("mouthpiece", "leadpipe", "bell")
    assert parts(without_part(TRUMPET, "bell")) == ("mouthpiece", "leadpipe")
    assert with_part(TRUMPET, "bell", "none") == without_part(TRUMPET, "bell")
    late = with_part(TRUMPET, "bell", instruments.part("bell", "late"))
    # the built-in bell is in three sections, the late one in one
    assert [s.label for s in late.section] == [s.label for s in TRUMPET.section][:-2]
    assert late.section[-1].flare == instruments.part("bell", "late").section[0].flare
    deep = instruments.part("mouthpiece", "deep")
    headless = without_part(TRUMPET, "mouthpiece")
    assert with_part(headless, "mouthpiece", deep) == with_part(TRUMPET, "mouthpiece", deep)
    with pytest.raises(SceneError, match=r'"Plain pipe.*" has no bell; it has: mouthpiece'):
        without_part(instruments.spec("pipe"), "bell")


def test_a_part_brings_its_end_or_player():
    flanged = TRUMPET.model_copy(update={"end": "flanged"})
    late = instruments.part("bell", "late")  # its file names no end
    assert with_part(flanged, "bell", late).end == "flanged"
    named = parse_bore({"end": "flanged", "section": [cylinder(name="bell")]}, "b.toml", ".")
    assert with_part(TRUMPET, "bell", named).end == "flanged"
    big = parse_bore({"player": "large", "section": [CUP]}, "m.toml", ".")
    assert with_part(TRUMPET, "mouthpiece", big).player == "large"


def test_a_sudden_change_is_told_and_a_small_one_is_not():
    told = junctions(bore_of(cylinder(), cylinder(diameter_mm=14.0), cylinder(diameter_mm=14.2)))
    assert told == [
        "sudden change from 12.0 to 14.0 mm at 700 mm: allowed; "
        "the model leaves out the extra inertance of the step"
    ]


def test_the_teaching_bores_share_the_mouthpiece_of_the_trumpet():
    teaching = [n for n in instruments.names() if instruments.spec(n).kind == "teaching"]
    assert len(teaching) == 13
    for name in teaching:
        assert instruments.spec(name).section[0] == TRUMPET.section[0]
    assert instruments.instrument("trumpet", "13").length > instruments.instrument("trumpet").length


def test_names_that_end_in_a_number_are_counted():
    family = [name for name in instruments.names() if name.startswith("conical")]
    assert family == [f"conical_{share}" for share in (0, 25, 50, 75, 100)]


PITCHES = {"C": 0, "Bb": -2, "A": -3, "F": -7, "Eb": -9, "B♭": -2}


@pytest.mark.parametrize("pitch", PITCHES)
def test_the_transposition_follows_the_pitch_unless_it_is_given(pitch):
    data = {"section": [cylinder()], "pitched_in": pitch}
    assert parse_bore(data, "b.toml", ".").transposition_semitones == PITCHES[pitch]
    given = parse_bore({**data, "transposition_semitones": 3}, "b.toml", ".")
    assert given.transposition_semitones == 3


@pytest.mark.parametrize("length", [0.01, 20_000])
def test_both_ends_of_a_range_are_allowed(length):
    spec = parse_bore(
        {"section": [cylinder(length_mm=length), cylinder(length_mm=50)]}, "b.toml", "."
    )
    assert spec.section[0].length_mm == length


def test_a_file_with_a_byte_order_mark_is_read(tmp_path):
    file = tmp_path / "pipe.toml"
    file.write_bytes(b"\xef\xbb\xbf" + b'[[section]]\r\nshape = "cylinder"\r\nlength_mm = 50\r\n')
    with pytest.raises(SceneError, match=r"section\[1\].diameter_mm: missing"):
        read_bore_file(file)
