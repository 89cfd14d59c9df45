"""`lipmodel film`: what it says, and what it refuses before anything is played."""

import sys
from pathlib import Path

import numpy as np
import pytest
from support import small_film
from support.small_film import pictures, streams

from lipmodel.commands.main import main
from lipmodel.output.pictures.film_layout import WIDE

pytestmark = pytest.mark.slow  # films

made = small_film.made  # the same fixture

SOURCE = """
title = "A slap on the hose"
[instrument]
name = "hose"
[source]
kind = "pop"
[sound]
length_s = 0.5
"""


def test_without_notes_there_is_a_curve_alone(tmp_path):
    scene = tmp_path / "slap.toml"
    scene.write_text(SOURCE, "utf-8")
    assert main(["film", str(scene), "--out", str(tmp_path / "slap.mp4")]) == 0
    seen = pictures(tmp_path / "slap.mp4", WIDE.size)
    assert len(seen) == 15
    assert "Audio: aac" in streams(tmp_path / "slap.mp4")
    moved = np.abs(seen[12].astype(int) - seen[3]).max(axis=2)
    assert moved[:, WIDE.left :].max() > 60
    assert moved[WIDE.alone + 5 :].max() < 20


def test_the_sentences_name_no_picture_that_is_not_there(made, capsys):
    main(["film", str(made / "first.toml"), "--out", str(made / "again.mp4")])
    told = capsys.readouterr().out
    assert "Played one note: C5" in told
    assert ".png" not in told
    assert "1 s, 1920 x 1080" in told
    assert (made / "again.mp4").read_bytes() == (made / "wide.mp4").read_bytes()


def test_a_missing_encoder_is_told_before_anything_is_played(made, monkeypatch, capsys):
    monkeypatch.setitem(sys.modules, "imageio_ffmpeg", None)  # import raises ImportError
    target = made / "none.mp4"
    assert main(["film", str(made / "first.toml"), "--out", str(target)]) == 2
    error = capsys.readouterr().err
    assert error == 'film: imageio-ffmpeg is not installed; pip install "lipmodel[film]"\n'
    assert not target.exists()


@pytest.mark.parametrize("name", ["film.avi", "film", "folder.mp4"])
def test_another_kind_of_file_is_refused(made, capsys, name):
    (made / "folder.mp4").mkdir(exist_ok=True)
    target = made / name
    assert main(["film", str(made / "first.toml"), "--out", str(target)]) == 2
    expected = f"--out {target}: expected the name of a file that ends in .mp4\n"
    assert capsys.readouterr().err == expected


def test_an_encoder_that_gives_up_leaves_nothing(made, monkeypatch, capsys):
    monkeypatch.setattr("lipmodel.output.film.PICTURE", ["-no_such_option", "1"])
    target = made / "deep" / "broken.mp4"
    assert main(["film", str(made / "first.toml"), "--out", str(target)]) == 2
    told = capsys.readouterr().err
    assert told.startswith("film: the encoder ")
    assert told.count("\n") == 1
    assert not Path(target).parent.exists()
