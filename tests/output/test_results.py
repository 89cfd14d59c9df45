"""What a researcher types: every public name, its examples, the notebook, and wrong calls."""

import doctest
import inspect
import json

import numpy as np
import pytest
from matplotlib.figure import Figure

import lipmodel as lm
from lipmodel.output.results.result import Record, Result

SCENE = {
    "title": "The school trumpet",
    "instrument": {"name": "trumpet"},
    "player": {"tune": "C4 0.8", "dynamic": "mf"},
}
SMALL_MAP = {"columns": 3, "rows": 2, "note_s": 0.2, "tension_hz": [210.0, 240.0]}


@pytest.fixture(scope="module")
def scene():
    return lm.Scene.from_dict(SCENE)


@pytest.fixture(scope="module")
def run(scene):
    return lm.simulate(scene)


def drawn(result):
    """The result is read-only, told in one line, and can be drawn and written."""
    assert isinstance(result.figure(), Figure)
    assert "\n" not in repr(result)
    assert all(isinstance(sentence, str) for sentence in result.sentences)
    json.dumps(result.to_dict(), default=np.ndarray.tolist)
    with pytest.raises(AttributeError, match="read-only"):
        result.title = "another"
    return result


@pytest.mark.parametrize("name", lm.__all__)
def test_every_public_name_says_what_it_takes_and_its_examples_hold(name):
    value = getattr(lm, name)
    if name == "players":
        assert set(value) == {"small", "large"}
        return
    assert len(inspect.getdoc(value).splitlines()) > 1 or isinstance(value, type), name
    finder = doctest.DocTestFinder(recurse=True)
    known = {one: getattr(lm, one) for one in lm.__all__} | {"np": np}
    runner = doctest.DocTestRunner(optionflags=doctest.NORMALIZE_WHITESPACE)
    for test in finder.find(value, name, globs=known):
        runner.run(test)
    assert runner.failures == 0
    if inspect.isfunction(value):
        assert ">>>" in value.__doc__, f"{name} has no example"


def test_the_notebook(scene, run):
    variants = [scene, scene.replace({"instrument.bell": "gradual"})]
    (note,) = lm.notes(run)
    assert note.written == "C4"
    assert 0.5 < note.lock < 1
    assert 0.01 < note.energy.radiated_share < 0.2
    slots = drawn(lm.slots(scene.replace({"player": {"pressure_kpa": 6, "tension_hz": 400}})))
    assert slots.to_dict()["up"][0]["partial"] == slots.up[0].partial
    seen = []
    tried = scene.replace({"map": SMALL_MAP})
    noted = drawn(lm.map(tried, progress=lambda *how: seen.append(how)))
    assert np.shape(noted.to_dict()["lock"]) == (2, 3)
    assert seen[-1][0] == seen[-1][1] == len(seen) - 1
    assert "D4" in lm.why("D4", "trumpet").sentences[0]
    assert abs(lm.chart("trumpet")["C4"].options[0].cents) < 60
    pair = lm.compare(variants, hold="pitch")
    assert len(pair.sentences) > 1
    assert [len(s) for s in pair.align()] == [len(pair.align()[0])] * 2


def test_results_are_drawn(run):
    for result in (lm.chart("bugle"), lm.series("trumpet", "0"), lm.why("D4", "trumpet")):
        drawn(result)
    for study in (lm.energy, lm.standing_wave):
        drawn(study(run))
    assert lm.energy(run).residual == pytest.approx(0, abs=1e-9)
    lipped = lm.simulate(run.scene.replace({"player": {"phrase": [
        {"note": "C4", "length_s": 0.8, "bend_cents": -60, "dynamic": "mf"}]}}))  # fmt: skip
    drawn(lm.pair(run, lipped))


def test_bells_and_bores_of_a_scene_are_drawn(scene):
    bells = [{"name": v, "instrument": {"bell": v}} for v in ("none", "late")]
    family = scene.replace({"variant": bells})
    for study in (lm.mirror, lm.echo, lm.bores):
        drawn(study(family))


def test_a_crescendo_is_drawn(scene):
    grown = {"phrase": [{"note": "C5", "length_s": 0.8,
                         "pressure_kpa": [[0.0, 4.0], [0.7, 8.0]]}]}  # fmt: skip
    drawn(lm.dynamics(lm.simulate(scene.replace({"player": grown}))))


def test_numbers_in_numbers_out():
    bore, air = lm.instrument("pipe"), lm.Air.at(22.0)
    one = lm.impedance(bore, air, 100.0)
    assert np.shape(one) == ()
    many = lm.impedance(bore, air, [100.0, 200.0])
    assert many.shape == (2,)
    assert many[0] == one
    assert lm.reflectance(bore, air, np.full((2, 3), 100.0)).shape == (2, 3)
    assert np.shape(lm.bell_energy(bore, air, 300.0)[0]) == ()


WRONG = {  # call: the whole sentence
    "resonances: bore = 'trumpet': expected a Bore; instrument('trumpet') gives one": lambda: (
        lm.resonances("trumpet", lm.Air.at(22.0))
    ),
    "impedance: air = 22: expected an Air; Air.at(22) gives one": lambda: lm.impedance(
        lm.instrument("pipe"), 22, 100.0
    ),
    "read_scene: path = dict: expected the path of a scene file; "
    "Scene.from_dict(tables) takes tables": lambda: lm.read_scene({"instrument": {}}),
    "simulate: scene = 'Bore': expected a Scene; read_scene(path) gives one": lambda: lm.simulate(
        lm.instrument("pipe")
    ),
    "slots: scene = {'a': 1}: expected a Scene; Scene.from_dict(tables) gives one": lambda: (
        lm.slots({"a": 1})
    ),
    "map: scene = 'my.toml': expected a Scene; read_scene(path) gives one": lambda: lm.map(
        "my.toml"
    ),
    "notes: run = 3: expected a Run; simulate(scene) gives one": lambda: lm.notes(3),
    'why: note = 60: expected the name of a note; write it as "D4"': lambda: lm.why(60, "trumpet"),
    "field: air = None: expected an Air; Air.at(celsius) gives one": lambda: lm.field(
        lm.instrument("pipe"), None, 100.0
    ),
    "build_ladder: bore = 1.4: expected a Bore; Bore.from_points(x, radius) gives one": lambda: (
        lm.build_ladder(1.4, lm.Air.at(22.0), 48000)
    ),
    "compare: scene = 'a.toml': expected a Scene; read_scene(path) gives one": lambda: lm.compare(
        ["a.toml"]
    ),
    "mirror: scene = None: expected a Scene; read_scene(path) gives one": lambda: lm.mirror(None),
}


@pytest.mark.parametrize("sentence", WRONG)
def test_a_wrong_call_is_told_in_one_sentence_with_the_way_out(sentence):
    with pytest.raises(TypeError) as told:
        WRONG[sentence]()
    assert str(told.value) == sentence


def test_records_are_read_by_name_and_by_attribute():
    row = Record({"a": 1, "b": [1.0, None], "c": [{"d": "e"}]})
    assert row.a == row["a"] == 1
    assert np.isnan(row.b[1])
    assert row.c[0].d == "e"
    with pytest.raises(ValueError, match="read-only"):
        row.b[0] = 2
    with pytest.raises(AttributeError, match="no 'z' here; there are a, b, c"):
        _ = row.z
    assert issubclass(Result, Record)
