"""Valves that move by time, in a scene with a lip setting."""

import numpy as np
import pytest

from lipmodel.analysis.pitch import steady_pitch
from lipmodel.output.render import render
from lipmodel.player.build import build, valves_at
from lipmodel.player.joins import VALVE_TRAVEL
from lipmodel.player.performance import perform
from lipmodel.player.plan import plan, valve_moves
from lipmodel.player.tubing import lines_for
from lipmodel.scene.scene import read_scene

SCENE = """
[instrument]
name = "trumpet"
{}
[player]
pressure_kpa = 6.0
tension_hz = 300.0
[sound]
length_s = 1.5
"""


def scene(folder, instrument):
    path = folder / "moved.toml"
    path.write_text(SCENE.format(instrument), encoding="utf-8")
    return read_scene(path)


def notes(played, *times):
    rate, pressure = played.built.rate, played.played.mouthpiece_pressure
    return [steady_pitch(pressure[int(t * rate) : int((t + 0.25) * rate)], rate) for t in times]


def test_a_note_goes_on_over_a_valve_and_ends_as_with_the_valve_down(tmp_path):
    moved = perform(scene(tmp_path, 'valve_moves = [[0.7, "2"]]'))
    first, second = notes(moved, 0.4, 1.2)
    (held,) = notes(perform(scene(tmp_path, 'valves = "2"')), 1.2)
    (still,) = notes(perform(scene(tmp_path, "")), 0.4)
    assert first == pytest.approx(still, rel=1e-9)
    # one ladder longer by its line, or another ladder: measured 0.03 cents
    assert abs(1200 * np.log2(second / held)) < 0.3
    assert abs(1200 * np.log2(second / first)) > 40


def test_valves_down_first_come_up(tmp_path):
    what = scene(tmp_path, 'valves = "2"\nvalve_moves = [[0.7, "0"]]')
    gesture = plan(build(what))
    np.testing.assert_array_equal(gesture.first_lines, lines_for(build(what), "2"))
    first, second = notes(perform(what), 0.4, 1.2)
    assert second > first
    assert [valves_at(what, t) for t in (0.0, 0.69, 0.7, 2.0)] == ["2", "2", "0", "0"]


def test_a_valve_moved_too_soon_waits_and_of_several_the_last_one_goes(tmp_path):
    told = 'valve_moves = [[0.5, "1"], [0.51, "12"], [0.52, "13"], [0.7, "0"]]'
    built = build(scene(tmp_path, told))
    moves, first = valve_moves(built)
    assert [t for t, _ in moves] == pytest.approx([0.5, 0.5 + VALVE_TRAVEL, 0.7])
    for (_, lines), valves in zip(moves, ("1", "13", "0"), strict=True):
        np.testing.assert_array_equal(lines, lines_for(built, valves))
    np.testing.assert_array_equal(first, lines_for(built, "0"))


@pytest.mark.slow
def test_a_report_names_the_valves_of_each_note(tmp_path):
    what = scene(tmp_path, 'valve_moves = [[0.7, "12"]]')
    (take,) = render(what.path, tmp_path / "out")
    rows = take.report["notes"]
    assert rows[0]["valves"] == "0"
    assert rows[-1]["valves"] == "12"
    assert rows[-1]["written"] == "E4"
    told = " ".join(take.report["sentences"])
    assert "from G4 to E4 at 0.7 s as the valves changed to 1-2, when the lips" in told
