"""`lipmodel bundle`: written whole or not at all."""

import zipfile

import pytest
from support import small_bundle
from support.small_bundle import SCENE

from lipmodel.commands.main import main

pytestmark = pytest.mark.slow  # whole bundles

made = small_bundle.made  # the same fixture


def test_the_command_writes_it_whole_or_not_at_all(made, tmp_path, capsys):
    folder = made[0]
    out = tmp_path / "a.zip"
    assert main(["bundle", str(folder / "pipe.toml"), "--out", str(out)]) == 0
    with zipfile.ZipFile(out) as archive:
        sound = archive.read("takes/pipe/sound.wav")
    assert sound == made[2].read("takes/pipe/sound.wav")
    assert "python rerun.py" in capsys.readouterr().out
    assert main(["bundle", str(folder / "pipe.toml"), "--out", str(tmp_path / "a.tar")]) == 2
    assert "ends in .zip" in capsys.readouterr().err
    assert main(["bundle", str(folder / "none.toml"), "--out", str(tmp_path / "b.zip")]) == 2
    assert [p.name for p in tmp_path.iterdir()] == ["a.zip"]


def test_two_scenes_of_one_name_are_refused(made, tmp_path, capsys):
    (tmp_path / "pipe.toml").write_text(SCENE.replace('bore = "tubes/pipe.toml"', 'name = "pipe"'))
    paths = [str(made[0] / "pipe.toml"), str(tmp_path / "pipe.toml")]
    assert main(["bundle", *paths, "--out", str(tmp_path / "b.zip")]) == 2
    assert "expected different names" in capsys.readouterr().err
