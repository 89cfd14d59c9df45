"""`lipmodel new`: starter files, never over a file."""

import re

import numpy as np
import pytest
from support.answers import assert_refused
from support.small_lesson import data_of

from lipmodel.commands.main import main

KINDS = ("note", "slots", "compare", "tune", "bore")


# new and check


@pytest.mark.parametrize("kind", KINDS)
def test_a_starter_is_written_and_found_in_order(tmp_path, capsys, kind):
    path = tmp_path / "harbour" / "my.toml"
    assert main(["new", kind, str(path)]) == 0
    told = capsys.readouterr()
    assert told.out.startswith(f"Wrote {path}. Next: lipmodel ")
    assert path.read_text("utf-8").startswith("# ")
    assert main(["check", str(path)]) == 0
    told = capsys.readouterr()
    assert told.err == ""
    what = "bore file, " if kind == "bore" else "scene"
    assert told.out.startswith(f"{path}: {what}")


def test_a_lesson_is_written_with_its_scenes(tmp_path, capsys):
    path = tmp_path / "harbour.toml"
    assert main(["new", "lesson", str(path)]) == 0
    assert capsys.readouterr().out.endswith(f". Next: lipmodel lesson {path}\n")
    names = ["harbour.toml", *(f"harbour_{n}.toml" for n in ("bells", "snap", "stairs"))]
    assert sorted(p.name for p in tmp_path.iterdir()) == names
    assert main(["check", str(path)]) == 0
    assert "lesson of 3 scenes" in capsys.readouterr().out


def test_a_lesson_is_written_over_no_scene(tmp_path, capsys):
    scene = tmp_path / "harbour_bells.toml"
    scene.write_text("precious")
    message = re.escape(f"{scene}: exists already; expected the name of a new file")
    assert_refused(capsys, ["new", "lesson", tmp_path / "harbour.toml"], message)
    assert [p.name for p in tmp_path.iterdir()] == [scene.name]
    assert scene.read_text() == "precious"


@pytest.mark.slow
def test_the_first_lesson_runs_as_it_is(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    assert main(["new", "lesson", "harbour.toml"]) == 0
    assert main(["lesson", "harbour.toml", "--out", "harbour.html"]) == 0
    told = capsys.readouterr()
    assert "Wrote harbour.html: 3 sections" in told.out
    assert "Section 3 of 3: harbour_stairs" in told.err
    assert (tmp_path / "harbour.html").stat().st_size < 5e6
    page = (tmp_path / "harbour.html").read_text("utf-8")
    stages = data_of(page)["stages"]
    assert [len(stage["takes"]) for stage in stages] == [1, 3, 1]
    assert [t["name"] for t in stages[1]["takes"]] == ["trumpet", "no bell", "hailing cone"]
    # what the answers say: the trumpet's pitch jumps, the hailing cone's does not
    jumps = [steps_of(take) for take in stages[1]["takes"]]
    assert min(jumps[:2]) >= 2
    assert jumps[2] == 0
    assert len(data_of(page)["tubes"][0]) == 4


def steps_of(take):
    """How often the pitch moves by more than a semitone from one point to the next."""
    f = np.array([v for v in take["frequency_hz"] if v])
    return int(np.sum(np.abs(np.diff(1200 * np.log2(f))) > 100))


def test_new_never_writes_over_a_file(tmp_path, capsys):
    path = tmp_path / "my.toml"
    path.write_text("precious")
    message = re.escape(f"{path}: exists already; expected the name of a new file")
    assert_refused(capsys, ["new", "note", path], message)
    assert path.read_text() == "precious"
    assert_refused(capsys, ["new", "note", tmp_path], re.escape(f"{tmp_path}: exists") + ".*")
    link = tmp_path / "link.toml"
    link.symlink_to("nowhere.toml")
    assert_refused(capsys, ["new", "note", link], re.escape(f"{link}: exists") + ".*")
    assert link.is_symlink()


def test_new_says_where_it_cannot_write(tmp_path, capsys):
    (tmp_path / "file").write_text("")
    path = tmp_path / "file" / "my.toml"
    message = re.escape(f"{path}: cannot be written (") + ".*; nothing was left half-written"
    assert_refused(capsys, ["new", "note", path], message)
    path = tmp_path / ("x" * 300 + ".toml")
    message = re.escape(f"{path}: cannot be written (File name too long)") + ".*"
    assert_refused(capsys, ["new", "note", path], message)


@pytest.mark.slow
def test_the_horn_of_ones_own_runs_as_it_is(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    assert main(["new", "bore", "my.toml"]) == 0
    text = (tmp_path / "my.toml").read_text("utf-8")
    for key in ("pitched_in", "[valves]", "tuning_slide = true", "compass", "tuning_slide_in_mm"):
        assert key in text
    assert "metal edges are sharp" in text
    for words in (["check"], ["resonances"], ["chart"]):
        assert main([*words, "my.toml"]) == 0
    told = capsys.readouterr().out
    assert "Tuning slide" not in told  # the open notes are in tune as it is
    assert main(["why", "D4", "--on", "my.toml"]) == 0
    assert "on My own horn, valves 1-3" in capsys.readouterr().out
    (tmp_path / "s.toml").write_text(
        '[instrument]\nbore = "my.toml"\ntuning_slide_pull_mm = 7\n[player]\ntune = "C4 1, D4 1"\n'
    )
    assert main(["render", "s.toml"]) == 0
    assert "Played two notes: C4 D4 (written)." in capsys.readouterr().out
