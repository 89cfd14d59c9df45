"""`lipmodel slots`: told and written, or too soft to sound."""

import json

import pytest

from lipmodel.commands.main import main

SCENE = """
title = "Steady breath"
[instrument]
name = "trumpet"
[player]
pressure_kpa = 6.0
tension_hz = [[0.0, 200.0], [4.0, 420.0]]
"""
KEYS = {
    "partial", "resonance_hz", "tension_from_hz", "tension_to_hz", "lip_width_cents",
    "centre_tension_hz", "playing_hz", "cents_from_resonance", "lock", "bend_below_cents",
    "bend_above_cents", "jump_tension_hz", "pressure_kpa",
}  # fmt: skip


def test_the_command_tells_slots_and_writes_them(tmp_path, capsys):
    scene = tmp_path / "s.toml"
    scene.write_text(SCENE)
    assert main(["slots", str(scene), "--out", str(tmp_path / "out")]) == 0
    told = capsys.readouterr().out
    assert "going up" in told
    folder = tmp_path / "out" / "s-slots"
    assert {p.name for p in folder.iterdir()} == {"picture.png", "slots.json", "sweep.csv"}
    document = json.loads((folder / "slots.json").read_text())
    assert set(document) == {"up", "down", "sweep"}
    assert set(document["up"][0]) == KEYS
    swept = document["sweep"]["up"]
    assert set(swept) == {
        "tension_hz", "pressure_kpa", "frequency_hz", "lock", "rms_pa", "centroid_hz",
    }  # fmt: skip
    assert len({len(v) for v in swept.values()}) == 1
    assert swept["pressure_kpa"][10] == pytest.approx(6.0)
    assert main(["slots", str(scene), "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == document


def test_a_sweep_too_soft_to_sound_is_told_in_one_line(tmp_path, capsys):
    scene = tmp_path / "s.toml"
    scene.write_text(SCENE.replace("6.0", "0.2"))
    assert main(["slots", str(scene), "--out", str(tmp_path / "out")]) == 2
    told = capsys.readouterr().err.strip()
    assert "nothing sounds between 200 and 420 Hz of lip setting at up to 0.2 kPa" in told
    assert "\n" not in told
    assert not (tmp_path / "out").exists()
