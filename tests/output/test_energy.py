"""Energy of each note: told, drawn, and told apart where it is missing."""

import json

import pytest

from lipmodel.files.folders import KNOWN_NAMES
from lipmodel.output.pictures.energy import energy_figure, shares
from lipmodel.output.render import render
from lipmodel.output.sentences import _unbooked
from lipmodel.studies.energy import PLACES


def test_the_report_tells_each_note_and_draws_it(tmp_path):
    path = tmp_path / "class.toml"
    path.write_text(
        '[instrument]\nname = "trumpet"\n[player]\ntune = "C5 1, - 1, G4 1"\n'
        "[show]\nenergy = true\n",
        encoding="utf-8",
    )
    (take,) = render(path, tmp_path / "out")
    report = json.loads((take.folder / "report.json").read_text("utf-8"))
    assert (take.folder / "energy.png").stat().st_size > 10_000
    assert "energy" in KNOWN_NAMES
    for note in report["notes"]:
        energy = note["energy"]
        assert set(energy["wall_at_w"]) == set(PLACES)
        left = energy["radiated_w"] / (energy["into_bore_w"] - energy["throat_w"])
        assert left == pytest.approx(energy["radiated_share_by_impedance"], rel=0.10)
        parts = shares(energy)
        # a bar that adds up; what the waves store changes a little from period to period
        assert sum(parts.values()) == pytest.approx(100, abs=0.5)
    whole = report["energy"]
    # of the whole take: attacks and releases too; measured 3e-4
    assert whole["lips_and_jet_j"] + whole["into_bore_j"] - whole["player_j"] == pytest.approx(
        whole["blown_j"], rel=2e-3
    )


# large lips in a cup that ends in a thin bell: what they push they feel at once
TIGHT = """\
end = "node"
player = "large"
[[section]]
name = "mouthpiece"
shape = "mouthpiece"
rim_diameter_mm = 16.3
cup_depth_mm = 9.0
cup_volume_ml = 1.39
throat_diameter_mm = 3.66
throat_length_mm = 0.0
backbore_length_mm = 500.0
backbore_end_diameter_mm = 100.0
[[section]]
shape = "bessel"
length_mm = 2000.0
start_diameter_mm = 4.0
flare = 0.6915
end_diameter_mm = 47.381
"""


@pytest.mark.parametrize(("rate", "told"), [(22_050, True), (44_100, False)])
def test_steps_too_long_for_the_lips_are_told(tmp_path, rate, told):
    (tmp_path / "bore.toml").write_text(TIGHT)
    path = tmp_path / "tight.toml"
    path.write_text(
        '[instrument]\nbore = "bore.toml"\nmute = { cork_mm = 1.0 }\n'
        "[air]\ntemperature_c = 5.0\nbreath = false\n"
        "[player]\npressure_kpa = [[0.0, 11.6], [0.013, 26.7], [0.108, 4.6], [0.157, 0.0]]\n"
        f"tension_hz = 2000\n[sound]\nlength_s = 0.157\nrate_hz = {rate}\n"
    )
    (take,) = render(path, tmp_path / "out")
    energy = take.report["energy"]
    missing = energy["blown_j"] - energy["into_bore_j"] - energy["lips_and_jet_j"]
    # measured 0.59 and 0.003
    assert (abs(missing) > 0.3 * energy["blown_j"]) == told
    assert any(s.startswith("Do not trust this sound") for s in take.sentences) == told


@pytest.mark.parametrize(
    ("blown", "lips", "tension", "told"),
    [
        (1.0, 0.1, 200.0, ": 70 % of the blown"),
        (1.0, -0.9, 200.0, ": more than all of the blown"),
        (1.0, 1.3, 200.0, ": 50 % of the blown"),
        (1.0, 0.51, 200.0, None),
        (1.0, 0.1, [[0, 200], [1, 300]], None),  # the player's own work is in no book
        (1e-3, -2e-4, 200.0, None),  # what trembling lips still hold
    ],
)
def test_what_is_missing_at_the_lips_is_told_unless_it_is_known_why(blown, lips, tension, told):
    report = {
        "energy": {"blown_j": blown, "into_bore_j": 0.2 * blown, "lips_and_jet_j": lips},
        "inputs": {"player": {"tension_hz": tension}},
        "rate_hz": 22_050,
    }
    said = _unbooked(report)
    assert [told in s for s in said] == ([] if told is None else [True])


def test_the_picture_says_when_there_is_no_note():
    figure = energy_figure({"title": "Nobody came on Wednesday", "notes": []})
    assert "no steady note" in [t.get_text() for t in figure.axes[0].texts]
