"""A note as it is planned: a slide that moves with a valve down, lips set anew."""

from dataclasses import FrozenInstanceError

import pytest

from lipmodel.bore.assembly import to_bore
from lipmodel.player.build import build
from lipmodel.player.cached import kept_resonances
from lipmodel.player.performance import _set_again
from lipmodel.player.plan import _followed_column, plan, planned
from lipmodel.scene.scene import Scene, read_scene
from lipmodel.units import cents


def test_a_slide_that_moves_with_a_valve_down_starts_from_the_pulled_column(tmp_path):
    (tmp_path / "both.toml").write_text(
        "[valves]\nfirst_mm = 100\nsecond_mm = 60\n"
        '[[section]]\nshape = "cylinder"\nlength_mm = 1400\ndiameter_mm = 12\n'
        "slide = true\nvalves = [[1, 100.0], [2, 200.0]]\n"
    )
    for pull in (0.0, 100.0):
        path = tmp_path / "slid.toml"
        path.write_text(
            '[instrument]\nbore = "both.toml"\n[player]\n[[player.phrase]]\nnote = "D4"\n'
            f'valves = "1"\nfirst_slide_pull_mm = {pull}\nslide_position = [[0, 1], [0.5, 3]]\n'
        )
        built = build(read_scene(path))
        (written,) = built.scene.phrase()
        note = planned(built, written)
        columns = [
            kept_resonances(
                to_bore(built.spec, valves="1", slide_position=p, first_slide_pull_mm=pull),
                built.air,
            )
            for p in (1.0, 3.0)
        ]
        near = min(columns[0], key=lambda r: abs(cents(r.frequency, note.frequency))).n
        expected = columns[1][near - 1].frequency / columns[0][near - 1].frequency
        assert _followed_column(built, note).last == pytest.approx(expected, rel=1e-9)


def test_the_written_note_stays_as_planned_when_it_is_blown_harder_and_set_anew():
    tables = {"instrument": {"name": "trumpet"}, "player": {"tune": "C4 1", "dynamic": "pp"}}
    built = build(Scene.from_dict(tables))
    (written,) = built.scene.phrase()
    note = planned(built, written)
    (played,) = plan(built).notes
    assert (note.settings, len(played.settings)) == ((), 1)
    assert played.pressure.first >= note.pressure.first
    with pytest.raises(FrozenInstanceError):
        played.settings = ()
    # sharp: the lips go down, at most 60 cents
    again = _set_again(played, 120.0 * played.slope, None, [], False)
    assert cents(again.settings[0], played.settings[0]) == pytest.approx(-60, abs=1e-9)
    assert _set_again(played, 0.2, None, [], False) is played
