"""A scene as physics: what is held, whatever is played."""

import pytest

from lipmodel.player.build import build, scene_bore
from lipmodel.scene.scene import Scene

TUNE = Scene.from_dict(
    {
        "instrument": {"name": "trumpet", "valves": "13"},
        "player": {"tune": "C4 1"},
    }
)
SWEEP = TUNE.replace({"player": {"tension_hz": 300, "pressure_kpa": 4}})


def test_valves_that_are_held_are_in_the_tube_whatever_is_played():
    open_tube = build(TUNE).bore.length
    held = build(TUNE, held=True).bore.length
    assert held == build(SWEEP).bore.length > open_tube + 0.2
    assert scene_bore(TUNE, TUNE.spec(), valves="13").length == held
    assert scene_bore(SWEEP, SWEEP.spec(), valves="0").length == open_tube


def test_held_a_slide_stays_where_it_is_first_and_valves_of_notes_are_up():
    given = {"name": "trombone", "valves": "auto", "slide_position": [[0, 3], [1, 5]]}
    scene = TUNE.replace({"instrument": given})
    third = TUNE.replace({"instrument": {"name": "trombone", "slide_position": 3}})
    assert build(scene, held=True).bore.length == build(third, held=True).bore.length
    assert build(scene).bore.length < build(third, held=True).bore.length


def test_a_rate_may_be_asked_for():
    assert build(TUNE, rate=24_000).rate == 24_000.0
    assert build(TUNE).rate == pytest.approx(TUNE.sound.rate_hz)
