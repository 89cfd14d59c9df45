"""Which player it was, and by how much notes shook: rows, sentences, picture."""

import numpy as np
import pytest
from support.true_sentences import missing, untrue

from lipmodel.commands.main import main
from lipmodel.files.audio import read_sound
from lipmodel.output.pictures.steadiness import steadiness_figure
from lipmodel.output.render import render
from lipmodel.output.steadiness import steadiness_row
from lipmodel.scene.scene import Scene

TABLES = {"instrument": {"name": "trumpet"}}
HELD = '[instrument]\nname = "trumpet"\n[player]\ntension_hz = 330\npressure_kpa = 6\n'
LENGTH = "[sound]\nlength_s = 1.6\n"


def row(**player):
    player |= {"tension_hz": 330, "pressure_kpa": 6}
    return steadiness_row(Scene.from_dict({**TABLES, "player": player}))


def test_the_report_says_which_player_it_was():
    assert row() == {
        "player": "machine", "lip_drift_cents": 0, "breath_drift_percent": 0, "seed": 1, "take": 1,
    }  # fmt: skip
    assert row(steadiness="student", take=3)["player"] == "student"
    assert row(steadiness="student", take=3)["take"] == 3
    own = row(steadiness={"lip_drift_cents": 7})
    assert (own["player"], own["lip_drift_cents"], own["breath_drift_percent"]) == ("own", 7, 0)
    old = row(flutter_percent=2)
    assert (old["player"], old["lip_drift_cents"], old["breath_drift_percent"]) == ("own", 0, 2)


@pytest.fixture
def rendered(tmp_path):
    def of(text):
        (tmp_path / "held.toml").write_text(text)
        (take,) = render(tmp_path / "held.toml", tmp_path / "out")
        report = {**take.report, "sound": read_sound(take.folder / "sound.wav")}
        assert untrue(report) + missing(report) == []
        return take

    return of


TOLD = {
    "": ["Lips and breath were held as still as a machine holds them."],
    'steadiness = "professional"': [
        "Unsteady as a professional: the lips by 15 cents and the breath by 3 % (rms, take 1).",
        "While it was held the lips shook by ",
    ],
    "steadiness = { lip_drift_cents = 8 }\ntake = 2": [
        "Unsteady as the scene asks: the lips by 8 cents (rms, take 2).",
    ],
    "flutter_percent = 2": [
        "Unsteady as the scene asks: the breath by 2 % (rms, take 1).",
        "flutter_percent is another name for the breath_drift_percent of steadiness.",
    ],
}


@pytest.mark.slow
@pytest.mark.parametrize("player", TOLD)
def test_who_played_is_always_told(rendered, player):
    take = rendered(f"{HELD}{player}\n{LENGTH}")
    said = take.report["sentences"]
    for start in TOLD[player]:
        assert any(sentence.startswith(start) for sentence in said), said
    drifting = take.report["steadiness"]["player"] != "machine"
    assert all(("steadiness" in note) == drifting for note in take.report["notes"])


@pytest.mark.slow
@pytest.mark.parametrize("name", ["hailing_cone", "mouthpiece"])
def test_nobody_stands_still_who_drifts(rendered, name):
    """Free lips that drift are no sweep, no row of notes, no jumps."""
    text = HELD.replace("trumpet", name) + f'steadiness = "student"\n{LENGTH}'
    take = rendered(text.replace("1.6", "4"))
    said = " ".join(take.report["sentences"])
    assert "The player drifted, and the pitch moved from " in said
    assert "stood still" not in said
    assert len(take.report["notes"]) == 1
    assert take.report["jumps"] == []
    assert take.report["notes"][0]["tension_hz"] == 330
    assert take.report["notes"][0]["pressure_kpa"] == 6


@pytest.mark.slow
def test_of_several_notes_the_steadiest_is_told_and_the_least_steady(rendered):
    player = 'tune = "C4 2, E4 2"\npressure_kpa = 5\nsteadiness = "professional"'
    take = rendered(f'[instrument]\nname = "trumpet"\n[player]\n{player}\n')
    assert any(s.startswith("Steadiest was ") for s in take.report["sentences"])


@pytest.mark.slow
def test_the_picture_is_made_again_in_the_same_folder(tmp_path):
    (tmp_path / "held.toml").write_text(
        HELD + 'steadiness = "student"\n[show]\nsteadiness = true\n' + LENGTH
    )
    for _ in range(2):
        assert main(["render", str(tmp_path / "held.toml"), "--out", str(tmp_path / "out")]) == 0
    assert (tmp_path / "out" / "held" / "steadiness.png").stat().st_size > 10_000


def document(size=12.0):
    time = np.linspace(1, 3, 200)
    wave = np.sin(2 * np.pi * 3 * time)
    return {
        "time_s": time.tolist(), "lip_cents": (size * wave).tolist(),
        "pitch_cents": (2 * wave).tolist(), "breath_percent": (3 * wave).tolist(),
        "row": {"lip_cents": 8.5, "pitch_cents": 1.4, "breath_percent": 2.1, "level_db": 0.31},
        "drift_cents": 9.0, "drift_percent": 2.0,
    }  # fmt: skip


def test_the_tracks_stand_on_one_axis_with_their_figures():
    figure = steadiness_figure("Held", document())
    axes, below = figure.axes
    labels = [line.get_label() for line in axes.lines[:2]]
    assert labels == ["lip setting: 8.5 cents rms", "pitch: 1.4 cents rms"]
    assert below.lines[0].get_label() == "breath: 2.1 % rms (level: 0.31 dB)"
    assert (axes.get_ylabel(), below.get_xlabel()) == ("Cents around the mean", "Time in s")
    assert axes.get_xlim() == below.get_xlim()
    # the same reach for all takes of a scene, unless that cuts a track
    assert axes.get_ylim() == pytest.approx((-31.5, 31.5))
    assert steadiness_figure("Held", document(60.0)).axes[0].get_ylim()[1] > 60
