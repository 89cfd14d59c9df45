"""Short scenes rendered once, with all that can be asked for and with nothing."""

import json
from pathlib import Path
from types import SimpleNamespace

import pytest

from lipmodel.commands.main import main
from lipmodel.output import background
from lipmodel.player.warm_up import warm_up

BARE = ["listen.html", "picture.png", "report.json", "sound.wav", "traces.npz"]
SWEEP = """\
title = "Wednesday warm-up"
[instrument]
name = "trumpet"
[player]
pressure_kpa = [[0.1, 0.0], [0.12, 6.0]]
tension_hz = 425.0
[sound]
length_s = 0.6
also = ["flac", "ogg", "mp3"]
[[variant]]
name = "No bell, please"
instrument.bell = "none"
"""
PLAIN = """\
[instrument]
name = "trumpet"
[player]
pressure_kpa = 6.0
tension_hz = 425.0
[sound]
length_s = 0.3
"""
PHRASE = """\
[instrument]
name = "trumpet"
[player]
dynamic = "mf"
[[player.phrase]]
note = "G4"
length_s = 0.5
[[player.phrase]]
note = "F4"
length_s = 0.5
[[player.phrase]]
note = "C5"
length_s = 1.0
bend_cents = -60
"""


def write(folder: Path, name: str, text: str) -> Path:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def listed(folder: Path) -> list[str]:
    return sorted(p.name for p in folder.iterdir())


def report_of(folder: Path) -> dict:
    return json.loads((folder / "report.json").read_text("utf-8"))


@pytest.fixture(scope="module", autouse=True)
def alone():
    """Compiled beforehand, and without a second process: what is changed here counts, and is
    quick.  That a second process gives the same bytes has a test of its own."""
    warm_up()

    def none_to_be_had(*args, **kwargs):
        raise OSError

    with pytest.MonkeyPatch.context() as patch:
        stub = SimpleNamespace(Popen=none_to_be_had, PIPE=-1, DEVNULL=-3)
        patch.setattr(background, "subprocess", stub)
        yield


@pytest.fixture(scope="module")
def full(tmp_path_factory):
    """The sweep with everything that can be asked for; the folder above its takes."""
    at = tmp_path_factory.mktemp("full")
    scene = write(at, "warm up.toml", SWEEP)
    out = at / "out"
    assert main(["render", str(scene), "--out", str(out), "--figures", "svg,pdf", "--csv"]) == 0
    return out


@pytest.fixture(scope="module")
def plain(tmp_path_factory):
    """One take of the plain scene, rendered twice over: out/plain and out/plain.previous."""
    at = tmp_path_factory.mktemp("plain")
    scene = write(at, "plain.toml", PLAIN)
    for _ in range(2):
        assert main(["render", str(scene), "--out", str(at / "out")]) == 0
    return at / "out"


TRACES = ["time_s", "mouth_pressure_pa", "mouthpiece_pressure_pa", "lip_opening_m2"]
TRACES += ["flow_m3_s", "radiated_pressure_pa", "tension_hz"]
