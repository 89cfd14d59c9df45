"""Bore files put together: cylinders, cones, mouthpieces, steps."""

import numpy as np
import pytest
from support.bore_files import CUP, bore_of, cylinder

from lipmodel.bore.assembly import junctions, read_bore


def test_a_cylinder_and_a_cone_are_exact():
    cone = {"shape": "cone", "length_mm": 300, "start_diameter_mm": 12, "end_diameter_mm": 60}
    bore = bore_of(cylinder(), cone)
    expected = np.pi * 0.006**2 * 0.7 + np.pi / 3 * 0.3 * (0.006**2 + 0.006 * 0.03 + 0.03**2)
    assert bore.length == pytest.approx(1.0, rel=1e-12)
    assert bore.volume == pytest.approx(expected, rel=1e-12)
    assert [(s.name, s.shape) for s in bore.sections] == [("cylinder",) * 2, ("cone",) * 2]
    assert bore.sections[1].start == bore.sections[0].end == pytest.approx(0.7)


def test_a_mouthpiece_is_cup_throat_and_backbore():
    bore = bore_of(CUP)
    throat = np.pi * 1.83e-3**2 * 3.5e-3
    backbore = np.pi / 3 * 65e-3 * (1.83e-3**2 + 1.83e-3 * 4.6e-3 + 4.6e-3**2)
    assert bore.volume == pytest.approx(1.39e-6 + throat + backbore, rel=1e-9)
    assert bore.length == pytest.approx(77.5e-3, rel=1e-12)
    assert bore.radius_at([9e-3, 12e-3]) == pytest.approx([1.83e-3, 1.83e-3])
    assert bore.radius[[0, -1]] == pytest.approx([8.15e-3, 4.6e-3])


def test_points_keep_their_steps(tmp_path):
    points = [[0, 10], [100, 10], [100, 20], [250, 30]]
    bore = bore_of({"shape": "points", "points_mm": points})
    assert bore.x.tolist() == pytest.approx([0, 0.1, 0.1, 0.25])
    assert bore.radius.tolist() == pytest.approx([0.005, 0.005, 0.01, 0.015])
    (tmp_path / "profile.csv").write_text("x_mm,diameter_mm\n0,10\n100,10\n100,20\n\n250,30\n")
    file = tmp_path / "hose.toml"
    file.write_text('[[section]]\nshape = "points"\nfile = "profile.csv"\n')
    assert read_bore(file).radius.tolist() == bore.radius.tolist()


def test_a_sudden_change_is_told_and_a_small_one_is_not():
    told = junctions(bore_of(cylinder(), cylinder(diameter_mm=14.0), cylinder(diameter_mm=14.2)))
    assert told == [
        "sudden change from 12.0 to 14.0 mm at 700 mm: allowed; "
        "the model leaves out the extra inertance of the step"
    ]
