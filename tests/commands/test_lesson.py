"""`lipmodel lesson`: the demo lesson, and pages that cannot be made."""

import re
from pathlib import Path

import pytest
from support.small_lesson import data_of

from lipmodel.commands.main import main
from lipmodel.scene.lesson import read_lesson

DEMO = Path(__file__).resolve().parents[2] / "scenes" / "lesson" / "lesson.toml"


def test_the_demo_lesson_is_in_order(capsys):
    assert main(["check", str(DEMO)]) == 0
    assert read_lesson(DEMO).title == "Why notes snap"
    for path in sorted(DEMO.parent.glob("*.toml")):
        if path != DEMO:
            assert path.read_text("utf-8").startswith("# "), path
            assert path in read_lesson(DEMO).scenes


@pytest.mark.slow
def test_the_demo_lesson_is_small_enough_to_send_home(tmp_path, capsys):
    out = tmp_path / "why notes snap.html"
    assert main(["lesson", str(DEMO), "--out", str(out)]) == 0
    assert out.stat().st_size <= 5e6
    data = data_of(out.read_text("utf-8"))
    assert [len(stage["takes"]) for stage in data["stages"]] == [1, 2, 1, 1, 2, 1]
    assert (len(data["maps"]), len(data["tubes"])) == (1, 1)
    told = capsys.readouterr()
    assert re.search(r"6 sections, [\d.]+ MB, made in (\d+ min )?\d+ s", told.out)
    assert "Section 2 of 6: hailing_cone with snap" in told.err


def test_without_any_sound_nothing_is_written(tmp_path, capsys):
    scene, out = tmp_path / "one.toml", tmp_path / "page.html"
    scene.write_text('[instrument]\nname = "banana"\n', encoding="utf-8")
    out.write_text("older", encoding="utf-8")
    assert main(["lesson", str(scene), "--out", str(out)]) == 2
    assert "banana" in capsys.readouterr().err
    assert out.read_text("utf-8") == "older"
    assert sorted(p.name for p in tmp_path.iterdir()) == ["one.toml", "page.html"]


@pytest.mark.parametrize("name", ["lesson.toml", "folder.html", "page"])
def test_the_page_must_be_an_html_file(tmp_path, name, capsys):
    (tmp_path / "folder.html").mkdir()
    scene = tmp_path / "lesson.toml"
    scene.write_text('scenes = ["one.toml"]\n', encoding="utf-8")
    assert main(["lesson", str(scene), "--out", str(tmp_path / name)]) == 2
    assert "expected the name of a file that ends in .html" in capsys.readouterr().err
    assert scene.read_text("utf-8").startswith("scenes")
