"""Valves and slides: the tube that they put in, and how they may be spelt."""

from itertools import pairwise

import numpy as np
import pytest
from support.bore_files import TRUMPET, cylinder

from lipmodel.bore import instruments
from lipmodel.bore.assembly import to_bore
from lipmodel.bore.bore_file import parse_bore
from lipmodel.bore.parts import with_part
from lipmodel.bore.valves import parse_valves, valve_length
from lipmodel.errors import SceneError


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


def test_a_tuning_slide_pushed_in_takes_away_twice_its_way():
    spec = instruments.spec("trumpet")
    length = to_bore(spec).length
    for valves in ("0", "13"):
        longer = to_bore(spec, valves=valves).length
        pushed = to_bore(spec, valves=valves, tuning_slide_pull_mm=-12.0)
        assert longer - pushed.length == pytest.approx(0.024)
        assert np.all(np.diff(pushed.x) >= 0)
    assert to_bore(spec, tuning_slide_pull_mm=12.0).length - length == pytest.approx(0.024)
    with pytest.raises(SceneError, match="goes in by 12 mm: expected -12 mm or more"):
        to_bore(spec, tuning_slide_pull_mm=-13.0)


def test_a_part_leaves_the_throws_of_the_slides_alone():
    spec = with_part(instruments.spec("trumpet"), "bell", "none")
    assert spec.valves.throws_mm == {"first": 15.0, "third": 25.0}
