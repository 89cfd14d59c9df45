"""Where a mute stands no turning points are told."""

from lipmodel.scene.scene import read_scene
from lipmodel.studies.mirror import mirror


def test_where_a_mute_stands_no_turning_points_are_told(tmp_path):
    path = tmp_path / "mute.toml"
    path.write_text(
        '[instrument]\nname = "trumpet"\nmute = { length_mm = 160.0 }\n'
        "[player]\ntension_hz = 420.0\npressure_kpa = 8.0\n[show]\nmirror = true\n"
    )
    found = mirror(read_scene(path))
    assert all(row["turns_m"] is None for row in found["partials"])
    assert found["members"][0]["top_hz"] is None
    assert "What stands in the bell" in " ".join(found["sentences"])
