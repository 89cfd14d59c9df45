"""Maps whose rows are resonances of the mouth: what they play, keep and tell."""

import csv

import numpy as np
import pytest
from support.small_map import written

import lipmodel as lm
from lipmodel.scene.scene import read_scene
from lipmodel.studies import map_cells
from lipmodel.studies.map import MouthRows, NoteMap
from lipmodel.studies.map_document import document, table_csv
from lipmodel.studies.map_mouth import borders, led_sentences
from lipmodel.units import KPA

LED = MouthRows((300.0, 900.0), 9.0)
SMALL = ("columns = 6", "columns = 3"), ("rows = 4", "rows = 2")
NAMES = {3: "3 G4", 4: "4 C5"}


@pytest.fixture(scope="module")
def finished(tmp_path_factory):
    folder = tmp_path_factory.mktemp("map")
    survey = NoteMap(read_scene(written(folder, *SMALL)), folder / "out", led=LED)
    survey.run()
    return survey


def test_each_row_is_played_with_its_own_mouth_at_the_one_breath(finished, tmp_path):
    found = document(finished)
    assert found["mouth_hz"] == pytest.approx([300, 900])
    assert found["pressure_kpa"] == [9, 9]
    assert found["threshold"] == []
    for row, resonance in enumerate((300.0, 900.0)):
        text = f"[mouth]\nresonance_hz = {resonance}\n[map]"
        one = NoteMap(read_scene(written(tmp_path, *SMALL, ("[map]", text))), None)
        played = map_cells.MapSetup(one.built.horn, one.built.bore, one.built.air, one.note)
        expected = map_cells.cells(played, 9 * KPA, finished.grid.tension)
        assert np.array_equal(finished.cells[row], expected, equal_nan=True)
    assert not np.array_equal(finished.cells[0], finished.cells[1])


def test_the_scenes_own_mouth_keeps_what_the_rows_do_not_say(tmp_path):
    text = '[mouth]\nvowel = "ee"\nquality = 9\n[map]'
    survey = NoteMap(read_scene(written(tmp_path, *SMALL, ("[map]", text))), None, led=LED)
    mouth = survey.built.horn.mouth
    assert mouth.compliance > 0
    assert mouth.quality == 9


def test_the_table_names_the_mouth_of_every_cell(finished):
    rows = list(csv.DictReader(table_csv(document(finished)).splitlines()))
    assert list(rows[0])[:3] == ["tension_hz", "pressure_kpa", "mouth_hz"]
    assert [float(r["mouth_hz"]) for r in rows] == pytest.approx([300] * 3 + [900] * 3)


def test_another_range_of_the_mouth_is_another_map(finished, tmp_path):
    again = NoteMap(read_scene(written(tmp_path, *SMALL)), tmp_path / "out", led=LED)
    assert again.digest() == finished.digest()
    for led in (MouthRows((300.0, 800.0), 9.0), MouthRows((300.0, 900.0), 8.0), None):
        other = NoteMap(read_scene(written(tmp_path, *SMALL)), tmp_path / "out", led=led)
        assert other.digest() != finished.digest()


def made(partial, state=None):
    """A map of five settings 50 cents apart and a row a mouth."""
    rows = len(partial)
    return {
        "tension_hz": (300 * 2 ** (np.arange(5) / 24)).tolist(),
        "mouth_hz": [400.0, 600.0, 800.0][:rows],
        "pressure_kpa": [12.0] * rows,
        "partial": partial,
        "state": state or [["locked" if n else "silent" for n in row] for row in partial],
    }


def test_a_border_is_the_lowest_setting_within_the_map():
    found = borders(made([[3, 3, 3, 4, 4], [3, 4, 4, 4, None], [None, 3, None, 3, 4]]))
    settings = made([[3] * 5])["tension_hz"]
    assert found == {
        4: [(400.0, settings[3]), (600.0, settings[1]), (800.0, settings[4])],
        3: [(800.0, settings[1])],  # elsewhere it goes on below the map
    }


def test_the_border_that_moves_most_is_told():
    told = led_sentences(made([[3, 3, 3, 4, 4], [3, 4, 4, 4, 4]]), NAMES, "written")
    assert told == [
        "Partials that sounded (written notes): 3 G4, 4 C5 (lips set to 300 to 337 Hz, mouth at "
        "400 to 600 Hz, 12 kPa).",
        "The mouth moves one border most: 4 C5 sounds from a lip setting of 309 Hz with the mouth "
        "at 600 Hz, but only from 327 Hz with it at 400 Hz.",
    ]


@pytest.mark.parametrize(
    ("partial", "state", "told"),
    [
        ([[3, 3, 3, 4, 4], [3, 3, 4, 4, 4]], None, "no border between them by more than a column"),
        ([[3] * 5] * 2, None, "no border between them"),
        ([[3] * 5] * 2, [["free"] * 5] * 2, "The pitch only glides with the lips"),
        ([[None] * 5] * 2, [["silent"] * 5] * 2, "Nothing sounded a note anywhere"),
        ([[None] * 5] * 2, [["unsteady", None, *["silent"] * 3]] * 2, "Nothing sounded"),
    ],
)
def test_what_does_not_move_or_hold_is_told(partial, state, told):
    assert told in " ".join(led_sentences(made(partial, state), NAMES, "written"))


def test_in_python_too(tmp_path):
    scene = read_scene(written(tmp_path, *SMALL))
    found = lm.map(scene, mouth_hz=(300, 900), pressure_kpa=9.0)
    assert found.mouth_hz == pytest.approx([300, 900])
    axes = found.figure().axes[0]
    assert axes.get_ylabel() == "Mouth resonance in Hz, at 9 kPa"
    assert axes.get_ylim() == pytest.approx((300 / 3**0.5, 900 * 3**0.5))


@pytest.mark.parametrize(
    ("given", "told"),
    [
        (
            {"mouth_hz": (300, 900)},
            r"mouth_hz = \(300, 900\): expected pressure_kpa beside it",
        ),
        ({"pressure_kpa": 9}, "map: pressure_kpa = 9: expected to be left out without mouth_hz"),
        ({"mouth_hz": 300, "pressure_kpa": 9}, "mouth_hz = 300: expected two rising numbers"),
        ({"mouth_hz": (300, 900), "pressure_kpa": True}, "expected a number from 0.05 to 40 kPa"),
    ],
)
def test_a_wrong_call_is_one_sentence(tmp_path, given, told):
    with pytest.raises(TypeError, match=told):
        lm.map(read_scene(written(tmp_path)), **given)
