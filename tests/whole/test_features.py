"""What every scene sounds like stays what it was: pitches, levels, centroids of a table; what is
told of it is so; its loudness is what was asked for, or the report says why not.

One rendering of every scene serves all three.
"""

import json

import pytest
from reference import make_features
from reference.make_features import SCENES, features, known, moved, name_of, scene_files
from support.meter import off_target
from support.true_changes import untold
from support.true_sentences import missing, untrue

from lipmodel.files.audio import read_sound
from lipmodel.output.render import render

pytestmark = pytest.mark.slow  # scenes from end to end

TABLE = known()
# the whole takes minutes; these are short and between them use notes, a sweep and a source
QUICK = ("note", "pop", "bend")


def test_the_table_names_every_scene_and_says_who_judged_it():
    text = make_features.TABLE.read_text("utf-8")
    assert text.startswith(make_features.JUDGED)
    takes = set(TABLE)
    for path in scene_files():
        assert name_of(path, path.stem) in takes, f"{path}: python tests/make_features.py"
    assert sum(len(row) for row in TABLE.values()) > 300


def test_what_has_moved_is_told():
    row = {"note 1 hz": 440.0, "lufs": -16.0, "centroid_hz": 900.0, "length_s": 1.0, "notes": 1}
    same = {"note 1 hz": 440.2, "lufs": -16.2, "centroid_hz": 908.0, "length_s": 1.01, "notes": 1}
    assert moved(row, same) == []
    for what, value in {
        "note 1 hz": 440.3, "lufs": -16.4, "centroid_hz": 910.0, "length_s": 1.03, "notes": 2
    }.items():  # fmt: skip
        (told,) = moved(row, {**row, what: value})
        assert told.startswith(what)
    assert moved(row, {}) == [f"{what}: no longer there" for what in row]
    assert moved({}, {"lufs": -16.0}) == ["lufs: new"]
    assert len(moved(row, {**row, "lufs": float("nan")})) == 1


def unmoved(path, played, out, tmp_path):
    """Every take of a scene, held against the table."""
    if path.parent == SCENES:
        played(path.stem)
        folders = [f for f in out.iterdir() if f.is_dir() and _made_of(f, path)]
    else:  # some bear the name of another scene
        folders = [take.folder for take in render(path, tmp_path)]
    told = []
    for folder in folders:
        name = name_of(path, folder.name)
        told += [f"{name}: {t}" for t in moved(TABLE.get(name, {}), features(folder))]
    assert folders
    reports = {folder: report_of(folder) for folder in folders}
    (first,) = [r for r in reports.values() if r["variant"] == "as written"]
    for folder, report in reports.items():
        sound = {**report, "sound": read_sound(folder / "sound.wav")}
        found = untrue(sound) + missing(report) + untold(first, report)
        found += off_target(folder, report)
        assert not found, "\n".join([folder.name, *found])
    assert not told, "\n".join([*told, "python tests/make_features.py makes the table again"])


def _made_of(folder, path) -> bool:
    return report_of(folder)["scene"] == path.name


def report_of(folder) -> dict:
    return json.loads((folder / "report.json").read_text("utf-8"))


@pytest.mark.parametrize("name", QUICK)
def test_a_short_scene_has_not_moved_and_what_is_told_is_so(played, out, tmp_path, name):
    unmoved(SCENES / f"{name}.toml", played, out, tmp_path)


REST = [path for path in scene_files() if path.parent != SCENES or path.stem not in QUICK]


@pytest.mark.slow
@pytest.mark.parametrize("path", REST, ids=[p.relative_to(SCENES).as_posix() for p in REST])
def test_no_scene_has_moved_and_what_is_told_is_so(played, out, tmp_path, path):
    unmoved(path, played, out, tmp_path)
