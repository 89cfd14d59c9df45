"""An instrument as it is played: its partials and its brassiness."""

from dataclasses import replace

import pytest
from support.music import AIR

from lipmodel.air import Air
from lipmodel.bore import instruments
from lipmodel.bore.instruments import instrument, spec
from lipmodel.player.instrument import Instrument, brassiness_of, load_instrument
from lipmodel.scene.scene import Scene


def test_a_bore_with_valves_but_no_name_for_its_first_partial_is_charted():
    # kind "teaching" is the default of a bore file: its resonances are looked for by pitch
    spec = instruments.spec("trumpet").model_copy(update={"kind": "teaching"})
    assert not Instrument(spec, AIR).natural
    assert Instrument(instruments.spec("pipe"), AIR).natural


def test_an_instrument_is_a_name_a_scene_or_itself():
    cornet = load_instrument("cornet")
    assert (cornet.name, cornet.celsius, cornet.scene) == (spec("cornet").title, 22.0, None)
    assert load_instrument(cornet) is cornet
    scene = Scene.from_dict(
        {
            "instrument": {"name": "cornet", "tuning_slide_pull_mm": 5},
            "player": {"tune": "C4 1"},
            "notes": {"a4_hz": 442, "spelling": "sharps"},
            "air": {"temperature_c": 15, "humidity_percent": 80},
        }
    )
    given = load_instrument(scene)
    assert (given.name, given.a4, given.spelling, given.celsius) == ("scene", 442, "sharps", 15)
    assert (given.scene, given.tuning_slide_pull_mm) == (scene, 5)
    assert given.air == Air.at(15, 0.8)


def test_at_another_temperature_only_the_air_is_another():
    scene = {"instrument": {"name": "cornet"}, "player": {"tune": "C4 1"}}
    damp = load_instrument(Scene.from_dict({**scene, "air": {"humidity_percent": 80}}))
    cold = damp.at(10)
    assert (cold.air, cold.celsius) == (Air.at(10, 0.8), 10)
    assert load_instrument(damp, 10) == replace(damp, air=cold.air, celsius=10)
    assert Instrument(spec("cornet"), Air.at(30), celsius=30).at(10).air == Air.at(10)


@pytest.mark.parametrize(
    ("name", "low", "high"), [("trombone", 0.6, 0.8), ("flugelhorn", 0.4, 0.55)]
)
def test_brassiness_tells_the_families_apart(name, low, high):
    # ranges of A. Myers et al. (2010), from memory
    assert low < brassiness_of(spec(name), instrument(name), AIR) < high
