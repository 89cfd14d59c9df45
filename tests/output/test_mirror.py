"""A scene of bells tells them all and draws them."""

from pathlib import Path

import numpy as np

from lipmodel.output.pictures.mirror import mirror_figure
from lipmodel.scene.scene import read_scene
from lipmodel.studies.mirror import mirror

SCENES = Path(__file__).resolve().parents[2] / "scenes"


def test_the_scene_tells_all_its_bells_and_draws_them():
    found = mirror(read_scene(SCENES / "mirror.toml"))
    names = [m["name"] for m in found["members"]]
    assert names == ["School trumpet", "gradual", "late", "no bell", "hailing cone"]
    good, gradual, late, bare, _ = found["members"]
    at = found["curve_hz"].index(1200.0)
    assert gradual["reflected"][at] < good["reflected"][at] < late["reflected"][at]
    assert bare["reflected"][at] > 0.95
    for member in found["members"]:
        both = np.add(member["reflected"], member["transmitted"])
        np.testing.assert_allclose(both, 1, atol=1.1e-4)  # each rounded to 4 places
    rows = {row["n"]: row for row in found["partials"]}
    assert (
        rows[2]["turns_before_end_m"]
        > rows[4]["turns_before_end_m"]
        > rows[8]["turns_before_end_m"]
    )
    assert rows[4]["note"] == "Bb4"
    assert rows[4]["back_at_lips"] < rows[4]["reflected"]
    figure = mirror_figure("Bells", found)
    words = [t.get_text() for axes in figure.axes for t in axes.texts]
    assert {"2", "3", "4", "6", "8"} <= set(words)
