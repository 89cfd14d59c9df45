"""A take with a source: report, sentences and files."""

import json

import numpy as np
import pytest
from support import source_scenes
from support.source_scenes import SHORT
from support.typed import misfits

from lipmodel.output.render import render
from lipmodel.output.report_types import Report
from lipmodel.output.source_report import levels, rows
from lipmodel.output.source_sentences import source_sentences
from lipmodel.player.build import build
from lipmodel.player.source import play_source
from lipmodel.scene.scene import read_scene

scene = source_scenes.scene  # the same fixture


def told(path):
    found = play_source(build(read_scene(path)))
    report = {"inputs": found.built.scene.inputs(), **rows(found)}
    return found, report, source_sentences(report)


SING = 'kind = "flame"\nat_mm = 325\nlag_ms = 1.9\nheat_w = 4'


@pytest.mark.parametrize(
    ("source", "words"),
    [
        (SING + '\nlip_end = "closed"', "the lip end is closed, so no draught"),
        (SING.replace("325", "650"), "walls and ends take"),
        (SING.replace("325", "975"), "takes from every swing"),
    ],
)
def test_a_silent_flame_says_why(scene, source, words):
    found, report, sentences = told(scene(source))
    assert not found.sounds
    assert report["notes"] == []
    assert any(words in s for s in sentences), sentences
    assert "qualified person" in sentences[-1]


def test_a_singing_flame_tells_its_resonance(scene):
    found, report, sentences = told(scene(SING))
    (note,) = report["notes"]
    assert found.sounds
    assert (note["state"], note["partial"]) == ("sounding", 1)
    assert abs(note["cents_from_resonance"]) < 10  # measured 8.0, as strong as this heat is
    assert [m["grows"] for m in report["source"]["rayleigh"][:2]] == [True, False]
    assert "sings by itself" in sentences[0]


@pytest.mark.parametrize("kind", ["pop", "breath", "tone"])
def test_what_is_heard_is_the_tube(scene, kind):
    _, report, sentences = told(scene(f'kind = "{kind}"'))
    heard = report["source"]["heard"]
    assert [h["n"] for h in heard[:5]] == [1, 2, 3, 4, 5]
    # measured 0.4 (pop), 4 (noise of 1.5 s), 0.5 (tone) cents: ladder against exact bore
    assert max(abs(h["cents_from_resonance"]) for h in heard[:5]) < {"breath": 10}.get(kind, 2)
    assert any("the tube's own resonances" in s for s in sentences)
    assert bool(report["notes"]) == (kind == "pop")


def test_a_take_has_the_files_and_keys_of_a_played_one(scene, tmp_path):
    path = scene('kind = "pop"', '[[variant]]\nname = "blown"\n'
                 "player.tension_hz = 300\nplayer.pressure_kpa = 4")  # fmt: skip
    popped, blown = render(path, tmp_path / "out")
    keys = [set(json.loads((t.folder / "report.json").read_text())) for t in (popped, blown)]
    assert not [m for take in (popped, blown) for m in misfits(take.report, Report)]
    assert keys[0] - keys[1] == {"source"}
    # a player's takes may say more about lips, never less
    assert keys[1] - keys[0] <= {"family", "heard", "mouth", "steadiness"}
    for name in ("sound.wav", "picture.png", "listen.html", "traces.npz"):
        assert (popped.folder / name).stat().st_size > 1000
    with np.load(popped.folder / "traces.npz") as a, np.load(blown.folder / "traces.npz") as b:
        assert set(a) == set(b)
        assert not a["mouth_pressure_pa"].any()
        assert not a["lip_opening_m2"].any()
        assert a["flow_m3_s"].any()
        assert a["radiated_pressure_pa"].any()
    page = (popped.folder / "listen.html").read_text("utf-8")
    assert "came from the source" in page
    assert popped.report["level"]["lufs"] > -60
    assert popped.report["energy"]["residual"] == pytest.approx(0, abs=1e-3)
    notes = popped.report["notes"][0], blown.report["notes"][0]
    assert set(notes[0]) <= set(notes[1]) | {"bend_cents"}


def test_a_pop_that_has_not_come_back_yet_is_told_without_numbers(tmp_path):
    # 43 ms from the end of a long hose to its lip end, 20 ms of sound
    (tmp_path / "hose.toml").write_text(
        '[[section]]\nshape = "cylinder"\nlength_mm = 15000\ndiameter_mm = 12\n'
    )
    path = tmp_path / "far.toml"
    tube, more = 'bore = "hose.toml"', "at_mm = 15000\nstart_s = 0.03"
    path.write_text(SHORT.format(tube=tube, more=more, length=0.05))
    (take,) = render(path, tmp_path / "out")
    report = json.loads((take.folder / "report.json").read_text())
    assert (report["source"]["heard"], report["notes"]) == ([], [])
    assert "is over too soon" in " ".join(report["sentences"])
    assert set(report["source"]["spectrum"]["level_db"]) == {-120.0}


def test_levels_of_nothing_at_all_are_the_lowest():
    assert levels(np.zeros(3)).tolist() == [-120, -120, -120]
    assert levels(np.array([1.0, 0.1, 0.0])).tolist() == [0, -20, -120]


def test_no_cents_are_told_without_a_minus():
    report = {
        "source": {"kind": "pop", "heard": [], "draught": None},
        "notes": [{"frequency_hz": 807.7, "sounding": "Ab5", "partial": 7,
                   "cents_from_resonance": -0.01}],
        "energy": {"into_bore_j": 0.0},
    }  # fmt: skip
    assert "resonance 7 of the tube, +0.0 cents from it." in source_sentences(report)[1]
