"""Commands on a scene with a source."""

import pytest
from support import source_scenes

from lipmodel.commands.main import main

scene = source_scenes.scene  # the same fixture


@pytest.mark.parametrize("command", ["slots", "map"])
def test_what_needs_lips_says_so_in_one_line(scene, capsys, command):
    path = scene('kind = "tone"')
    assert main([command, str(path)]) == 2
    said = capsys.readouterr().err.splitlines()
    assert said == [f"{path}: has a [source]: lipmodel {command} needs the lips of a [player]"]


def test_resonances_of_a_source_scene_are_told(scene, capsys):
    assert main(["resonances", str(scene('kind = "tone"')), "--json"]) == 0
    assert "frequency_hz" in capsys.readouterr().out
