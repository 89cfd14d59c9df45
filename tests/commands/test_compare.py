"""`lipmodel compare`: what it tells, refuses, and says of results."""

import re

import pytest
from support import compared_scenes, small_compare
from support.compared_scenes import COLD, CUP, POP, STEADY, SWEPT, document_of, scene

from lipmodel.commands.main import main
from lipmodel.output.compare import scenes_of, variants_of
from lipmodel.scene.scene import read_scene

pytestmark = pytest.mark.slow  # whole comparisons

document = compared_scenes.document  # the same fixture


def test_what_cannot_be_held_leaves_nothing(tmp_path, capsys):
    path, out = scene(tmp_path, SWEPT), tmp_path / "out"
    assert main(["compare", str(path), "--hold", "effort", "--out", str(out)]) == 2
    assert capsys.readouterr().err.strip().startswith(str(path))
    assert [p.name for p in tmp_path.iterdir()] == ["scene.toml"]


def test_a_source_is_compared_as_it_is(tmp_path, capsys):
    path = scene(tmp_path, POP.replace("[source]", "[sound]\nlength_s = 0.6\n[source]"))
    assert main(["compare", str(path), "--out", str(tmp_path / "out")]) == 0
    told = capsys.readouterr().out
    assert "Held: nobody plays" in told
    assert document_of(tmp_path / "out")["hold"] is None


def test_it_tells_what_changed_what_was_held_and_what_was_taken(tmp_path, capsys):
    path = scene(tmp_path, STEADY + CUP)
    assert main(["compare", str(path), "--hold", "pitch", "--out", str(tmp_path / "out")]) == 0
    told = capsys.readouterr().out
    row = document_of(tmp_path / "out")["sounds"][1]
    assert "Changed: instrument.mouthpiece: as written -> deep." in told
    assert re.search(r"The player: the lips: 420\.0 -> \d+\.\d Hz, so that they play", told)
    word = "louder" if row["taken_db"] > 0 else "softer"
    assert f"it was {abs(row['taken_db']):.1f} dB {word} than the first" in told
    assert "Held: the pitch" in told
    assert "blind.html" in told


def test_two_scenes_differ_by_their_keys(tmp_path, capsys):
    paths = [
        scene(tmp_path, STEADY, "one"),
        scene(tmp_path, STEADY.replace("8.0", "9.0").replace("One", "Harder"), "two"),
    ]
    out = tmp_path / "out"
    assert main(["compare", *map(str, paths), "--out", str(out)]) == 0
    rows = document_of(out)["sounds"]
    assert [r["name"] for r in rows] == ["One note", "Harder note"]
    assert rows[1]["changed"] == ["player.pressure_kpa: 8 -> 9"]
    assert rows[1]["taken_db"] > 0  # more breath, more sound


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (STEADY, "1 sound to compare: expected a scene with a [[variant]], or two scenes"),
        (STEADY + COLD + "".join(COLD.replace("cold", f"v{n}") for n in range(11)), "13 sounds"),
        (STEADY + '[[variant]]\nname = "same"\ntitle = "Two"\n', "all sounds are the same"),
        (STEADY + '[[variant]]\nname = "off"\nplayer.pressure_kpa = 0.0\n', "nothing sounds"),
    ],
)
def test_a_set_that_is_none_is_refused(tmp_path, text, told, capsys):
    path = scene(tmp_path, text)
    assert main(["compare", str(path), "--out", str(tmp_path / "out")]) == 2
    error = capsys.readouterr().err
    assert error.startswith(f"{path}: ")
    assert told in error
    assert [p.name for p in tmp_path.iterdir()] == ["scene.toml"]


def test_a_scene_twice_and_a_foreign_folder_are_refused(tmp_path, capsys):
    path = scene(tmp_path, STEADY + COLD)
    assert main(["compare", str(path), str(path)]) == 2
    assert "given twice" in capsys.readouterr().err
    assert main(["compare", str(path), "--out", str(tmp_path)]) == 2
    assert "holds other files" in capsys.readouterr().err


def test_the_starter_can_be_compared(tmp_path):
    path = tmp_path / "my.toml"
    assert main(["new", "compare", str(path)]) == 0
    assert len(variants_of(scenes_of([path]))) == len(read_scene(path).variants) == 3


def test_results_are_read_and_told(tmp_path, document, capsys):
    rights = {"anna": 10, "bert": 8, "cleo": 9}
    paths = [
        small_compare.saved(tmp_path, small_compare.results(document, code, right), f"{code}.json")
        for code, right in rights.items()
    ]
    assert main(["compare", "--read", *map(str, paths)]) == 0
    told = capsys.readouterr().out.splitlines()
    assert "anna: 10 of 10 right, p = 0.0010" in told[1]
    assert "bert: 8 of 10 right, p = 0.0547, 95 % interval 44 to 97 %" in told[2]
    assert "Listeners like these hear a difference" in told[-1]


@pytest.mark.parametrize("text", ["", "[1]", "{", '{"kind": 3}', "\0", "[" * 100_000])
def test_a_file_that_is_something_else_is_refused(tmp_path, text, capsys):
    path = tmp_path / "some.json"
    path.write_text(text, encoding="utf-8")
    assert main(["compare", "--read", str(path)]) == 2
    assert capsys.readouterr().err.startswith(f"{path}: ")
    assert main(["compare", "--read", str(tmp_path / "none.json")]) == 2
    assert "none.json: no such file" in capsys.readouterr().err
