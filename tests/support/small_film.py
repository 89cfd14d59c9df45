"""Both films of a short scene, and the pictures and sound that a film holds."""

import subprocess

import imageio_ffmpeg
import numpy as np
import pytest

from lipmodel.commands.main import main
from lipmodel.output.render import rendered

SCENE = """
title = "The first note of the class"
[instrument]
name = "trumpet"
[player]
dynamic = "mf"
[[player.phrase]]
note = "C5"
start_s = 0.1
length_s = 0.75
[sound]
length_s = 1.0
[[variant]]
name = "softer"
player.dynamic = "mp"
"""


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """A folder with both films of a short scene and the take that they show."""
    folder = tmp_path_factory.mktemp("film")
    scene = folder / "first.toml"
    scene.write_text(SCENE, "utf-8")
    assert main(["film", str(scene), "--out", str(folder / "wide.mp4")]) == 0
    assert main(["film", str(scene), "--out", str(folder / "tall.mp4"), "--upright"]) == 0
    list(rendered(scene, folder, field=True))
    return folder


def ffmpeg(*words) -> subprocess.CompletedProcess:
    command = [imageio_ffmpeg.get_ffmpeg_exe(), "-hide_banner", *map(str, words)]
    return subprocess.run(command, capture_output=True, check=False)


def streams(path) -> str:
    """What the encoder's own program tells of the file."""
    return ffmpeg("-i", path).stderr.decode()


def pictures(path, size) -> np.ndarray:
    """All frames, shape (frames, height, width, 3)."""
    raw = ffmpeg("-v", "error", "-i", path, "-f", "rawvideo", "-pix_fmt", "rgb24", "-").stdout
    return np.frombuffer(raw, np.uint8).reshape(-1, size[1], size[0], 3)
