"""`lipmodel map`: what it writes, tells and refuses, and what a stop keeps."""

import json

import pytest
from support import small_map
from support.small_map import KEYS, MOUTH, written

from lipmodel.commands.main import main
from lipmodel.studies import map_cells
from lipmodel.studies.map import NoteMap
from lipmodel.units import KPA

scene = small_map.scene  # the same fixture
two_thresholds_a_partial = small_map.two_thresholds_a_partial  # the same fixture


def test_ctrl_c_says_what_is_kept(scene, tmp_path, monkeypatch, capsys):
    run = NoteMap.run

    def stopped(self, how, progress):
        def stop(done, total):
            if done == 2:
                raise KeyboardInterrupt

        run(self, how, stop)

    monkeypatch.setattr(NoteMap, "run", stopped)
    out = tmp_path / "out"
    assert main(["map", str(scene), "--workers", "1", "--out", str(out)]) == 130
    error = capsys.readouterr().err
    assert "12 of 24 cells are kept" in error
    monkeypatch.undo()
    assert main(["map", str(scene), "--workers", "1", "--out", str(out)]) == 0
    assert "going on" in capsys.readouterr().err
    assert sorted(p.name for p in out.iterdir()) == ["map.csv", "map.json", "picture.png"]
    assert not list(tmp_path.glob("*.npz"))


def test_the_command_writes_and_tells(scene, tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert main(["map", str(scene), "--workers", "1"]) == 0
    said = capsys.readouterr().out
    assert "3 G4 from" in said
    assert "24 cells (" in said
    assert "with 1 worker." in said
    folder = tmp_path / "renders" / "class-map"
    assert json.loads((folder / "map.json").read_text(encoding="utf-8"))["workers"] == 1
    assert main(["map", str(scene), "--workers", "1", "--json"]) == 0
    assert set(json.loads(capsys.readouterr().out)) == KEYS


def test_rows_may_be_resonances_of_the_mouth(tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(tmp_path)
    path = written(tmp_path, ("columns = 6", "columns = 3"), ("rows = 4", "rows = 2"))
    assert main(["map", str(path), "--workers", "1", *MOUTH]) == 0
    assert "mouth at 300 to 900 Hz, 9 kPa" in capsys.readouterr().out
    folder = tmp_path / "renders" / "class-mouth-map"
    document = json.loads((folder / "map.json").read_text(encoding="utf-8"))
    assert set(document) == KEYS | {"mouth_hz"}
    assert document["pressure_kpa"] == [9, 9]
    assert (folder / "picture.png").stat().st_size > 10_000
    head = (folder / "map.csv").read_text("utf-8").splitlines()[0]
    assert head.startswith("tension_hz,pressure_kpa,mouth_hz,frequency_hz,")


def test_a_bore_that_holds_nothing_only_glides(tmp_path, capsys):
    changes = ('"trumpet"', '"hailing_cone"'), ("[1.5, 8]", "[4, 6]"), ("rows = 4", "rows = 2")
    path = written(tmp_path, *changes)
    assert main(["map", str(path), "--workers", "1", "--out", str(tmp_path / "out")]) == 0
    said = capsys.readouterr().out
    assert "the pitch only glides with the lips" in said
    assert "locked" not in said


def test_a_map_where_nothing_sounds(tmp_path, capsys):
    path = written(
        tmp_path, ("[1.5, 8]", "[0, 0.3]"), ("columns = 6", "columns = 2"), ("rows = 4", "rows = 2")
    )
    assert main(["map", str(path), "--workers", "1", "--out", str(tmp_path / "out")]) == 0
    assert "Nothing sounded a note anywhere" in capsys.readouterr().out
    assert (tmp_path / "out" / "picture.png").stat().st_size > 10_000


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--workers", "0"], "expected a whole number from 1 to 64"),
        (["--workers", "1000"], "expected a whole number from 1 to 64"),
        (["--workers", "many"], "expected a whole number from 1 to 64"),
        (["--workers", "2", "--cluster", "local"], "left out with --cluster"),
        (MOUTH[:3], "--mouth-hz 300 900: expected --pressure-kpa beside it"),
        (MOUTH[3:], "--pressure-kpa 9: expected to be left out without --mouth-hz"),
        (["--mouth-hz", "900", "300", *MOUTH[3:]],
         "--mouth-hz 900 300: expected two rising numbers from 100 to 2000 Hz"),
        (["--mouth-hz", "300", "2001", *MOUTH[3:]], "two rising numbers from 100 to 2000 Hz"),
        (["--mouth-hz", "99", "900", *MOUTH[3:]], "two rising numbers from 100 to 2000 Hz"),
        (["--mouth-hz", "low", "900", *MOUTH[3:]], "--mouth-hz low 900: expected two rising"),
        ([*MOUTH[:3], "--pressure-kpa", "0"],
         "--pressure-kpa 0: expected a number from 0.05 to 40 kPa"),
        ([*MOUTH[:3], "--pressure-kpa", "hard"], "--pressure-kpa hard: expected a number"),
        ([*MOUTH[:3], "--pressure-kpa", "nan"], "--pressure-kpa nan: expected a number"),
    ],
)  # fmt: skip
def test_bad_options_are_told_in_one_line(scene, options, words, capsys):
    assert main(["map", str(scene), *options]) == 2
    error = capsys.readouterr().err
    assert words in error
    assert error.count("\n") == 1


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (("[200, 520]", "[520, 200]"), "rising"),
        (("[1.5, 8]", "[8, 1.5]"), "rising"),
        (("columns = 6\nrows = 4", "columns = 1\nrows = 4"), "from 2 to 1000"),
        (("columns = 6\nrows = 4", "columns = 1000\nrows = 300"), "hours"),
    ],
)
def test_bad_grids_are_told_in_one_line(tmp_path, change, words, capsys):
    path = written(tmp_path, change)
    assert main(["map", str(path), "--out", str(tmp_path / "out")]) == 2
    error = capsys.readouterr().err
    assert words in error
    assert error.count("\n") == 1


def test_a_folder_with_other_files_is_refused_at_once(scene, tmp_path, capsys):
    out = tmp_path / "out"
    out.mkdir()
    (out / "homework.txt").write_text("mine")
    assert main(["map", str(scene), "--out", str(out)]) == 2
    assert "homework.txt" in capsys.readouterr().err


def test_a_map_with_lost_cells_is_still_drawn(scene, tmp_path, monkeypatch, capsys):
    cells = map_cells.cells

    def fragile(played, mouth, tensions):
        if mouth > 7 * KPA:
            raise MemoryError("no room")
        return cells(played, mouth, tensions)

    monkeypatch.setattr(map_cells, "cells", fragile)
    out = tmp_path / "out"
    assert main(["map", str(scene), "--workers", "1", "--out", str(out)]) == 0
    assert "6 cells are missing (MemoryError: no room)" in capsys.readouterr().out
    document = json.loads((out / "map.json").read_text(encoding="utf-8"))
    assert document["state"][3] == [None] * 6
    assert (tmp_path / "out.partial.npz").is_file()  # so that the next run tries only those
