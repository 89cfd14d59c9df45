"""Rows of the report follow a slide under held lips."""

import numpy as np
import pytest
from support.music import cents
from support.slides import column, lips, played, report_rows

from lipmodel.output import report_rows as rows_of_report


@pytest.mark.slow
def test_the_report_follows_a_slide_under_held_lips(tmp_path):
    run = played(tmp_path, lips("[[0.4, 1], [1.6, 1.8]]", length=1.8))
    (row,) = report_rows(run)
    middle = 0.5 * (row["start_s"] + row["end_s"])
    place = np.interp(middle, [0.4, 1.6], [1, 1.8])
    assert row["slide_position"] == pytest.approx(place, abs=0.05)
    near = cents(row["resonance_hz"], column(row["slide_position"]))
    assert abs(near) < 0.1
    slide = rows_of_report.slide_rows(run)
    assert (slide["position"][0], slide["position"][-1]) == (1.0, 1.8)
    assert len(slide["positions"]) == len(slide["resonances_hz"]) == 9
    assert slide["resonances_hz"][0][3] == pytest.approx(column(1.0), rel=1e-6)
