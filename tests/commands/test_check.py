"""`lipmodel check`: what a file is, and every bad one."""

import pytest
from support import answers
from support.answers import refused
from support.bores import slide_scene
from support.slides import lips, phrase

from lipmodel.commands.main import main

scene = answers.scene  # the same fixture


def test_check_says_what_a_file_is(capsys, scene):
    assert main(["check", str(scene)]) == 0
    assert capsys.readouterr().out.startswith(f"{scene}: scene and 1 variant, 4 s\n")


def test_check_reports_sudden_changes_of_the_bore(tmp_path, capsys):
    path = tmp_path / "step.toml"
    path.write_text(
        '[[section]]\nshape = "cylinder"\nlength_mm = 500\ndiameter_mm = 10\n'
        '[[section]]\nshape = "cylinder"\nlength_mm = 500\ndiameter_mm = 20\n'
    )
    assert main(["check", str(path)]) == 0
    first, second = capsys.readouterr().out.splitlines()
    # pi/4 (0.1^2 + 0.2^2) 0.5 m in cm: 39.27 + 157.08 ml
    assert first == f"{path}: bore file, 1000.0 mm, 196.3 ml"
    assert "500" in second
    assert "10" in second
    assert "20" in second


def test_check_goes_through_all_files_and_tells_every_bad_one(tmp_path, capsys, scene):
    bad = tmp_path / "bad.toml"
    bad.write_text('[instrument]\nname = "trumpet"\n[player]\npressure_kpa = 99\ntension_hz = 3\n')
    missing = tmp_path / "missing.toml"
    assert main(["check", str(bad), str(scene), str(missing), str(tmp_path)]) == 2
    told = capsys.readouterr()
    assert told.out.startswith(f"{scene}: scene")
    lines = told.err.splitlines()
    assert len(lines) == 4
    assert lines[0].startswith(f"{bad}: player.pressure_kpa = 99: expected a number from 0 to 40")
    assert lines[1].startswith(f"{bad}: player.tension_hz = 3: expected a number from 20 to 2000")
    assert lines[2:] == [f"{missing}: no such file", f"{tmp_path}: is a folder; expected a file"]


def test_a_lesson_file_is_checked_with_its_scenes(tmp_path, capsys):
    assert main(["new", "note", str(tmp_path / "one.toml")]) == 0
    lesson = tmp_path / "lesson.toml"
    lesson.write_text('title = "First lesson"\nscenes = ["one.toml"]\n')
    assert main(["check", str(lesson)]) == 0
    assert "lesson of 1 scenes" in capsys.readouterr().out
    lesson.write_text('scenes = ["missing.toml"]\n')
    assert "missing.toml" in refused(capsys, "check", lesson)
    lesson.write_text("scenes = 3\n")
    assert refused(capsys, "check", lesson).endswith("expected a list of scene files")


def test_scenes_say_what_is_wrong_with_a_mute(tmp_path, capsys):
    scene = tmp_path / "s.toml"
    scene.write_text(
        '[instrument]\nname = "trumpet"\nmute = { cork_mm = 90.0 }\nhand = { open_percent = 0 }\n'
        "[player]\npressure_kpa = 5.0\ntension_hz = 300.0\n"
    )
    assert main(["check", str(scene)]) == 2
    told = capsys.readouterr().err
    assert "instrument.mute.cork_mm = 90.0: expected a number from 0.2 to 50 mm" in told
    assert "instrument.hand.open_percent = 0: expected a number from 2 to 100 %" in told
    scene.write_text(scene.read_text().replace("90.0", "49.0").replace("= 0 }", "= 50 }"))
    assert main(["check", str(scene)]) == 2
    assert "instrument.mute: the mute does not go into the bell" in capsys.readouterr().err


# bad input


def one_line(capsys):
    told = capsys.readouterr().err.strip()
    assert "\n" not in told
    return told


@pytest.mark.parametrize(
    ("position", "expected"),
    [
        ("[[0, 1], [1, 8]]", "slide_position[2][2] = 8: expected a number from 1 to 7"),
        ("0.5", "slide_position = 0.5: expected a number from 1 to 7"),
    ],
)
def test_positions_beyond_the_slide_are_refused(tmp_path, capsys, position, expected):
    assert main(["check", str(slide_scene(tmp_path, lips(position)))]) == 2
    assert expected in one_line(capsys)
    bad = phrase(f'{{note = "Bb3", slide_position = {position}}}')
    assert main(["check", str(slide_scene(tmp_path, bad))]) == 2
    assert expected in one_line(capsys)


@pytest.mark.parametrize("position", ["3", "[[0, 1], [1, 2]]"])
def test_a_bore_without_a_slide_is_told(tmp_path, capsys, position):
    path = tmp_path / "scene.toml"
    scenes = (
        f'[instrument]\nname = "trumpet"\n{lips(position)}',
        '[instrument]\nname = "trumpet"\n'
        + phrase(f'{{note = "C4", slide_position = {position}}}'),
    )
    for text in scenes:
        path.write_text(text, encoding="utf-8")
        assert main(["check", str(path)]) == 2
        assert "expected 1: it has no slide" in one_line(capsys)
