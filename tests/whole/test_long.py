"""Long takes: the same as short ones, in little memory, or refused."""

import json
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import soundfile
from support.long_runs import SHORT, short_memory
from support.music import RATE_HZ

from lipmodel.errors import SceneError
from lipmodel.files import folders, long_arrays
from lipmodel.output.render import render

pytestmark = pytest.mark.slow  # takes of minutes

ROOT = Path(__file__).resolve().parents[2]
SCENES = {
    "a sweep": """
[player]
pressure_kpa = [[0, 0], [0.05, 7], [1.3, 7], [1.35, 0]]
tension_hz = [[0, 300], [1.5, 520]]
steadiness = "student"
""",
    "notes with valves": """
[player]
tune = "C5 0.5, B4 0.5, - 0.2, C5 0.3"
tempo_bpm = 60
dynamic = "f"
[show]
dynamics = true
field = true
energy = true
""",
    "a slide on its way": """
slide_position = [[0, 1], [0.3, 4], [0.8, 4], [0.9, 2.5], [1.5, 2.5]]
[player]
pressure_kpa = 6
tension_hz = 210
""",
    "silence": """
[player]
pressure_kpa = 0
tension_hz = 300
""",
}


@pytest.mark.parametrize("text", SCENES.values(), ids=SCENES)
def test_a_long_take_is_the_short_one(tmp_path, monkeypatch, text):
    path = tmp_path / "same.toml"
    name = "trombone" if "slide" in text else "trumpet"
    path.write_text(
        f'[instrument]\nname = "{name}"\n{text}[sound]\nlength_s = 1.5\nalso = ["ogg"]\n'
    )
    (once,) = render(path, tmp_path / "once", csv="thin")
    short_memory(monkeypatch)
    assert long_arrays.HELD == long_arrays.HELD == long_arrays.HELD == SHORT
    (long,) = render(path, tmp_path / "long", csv="thin")
    names = {f.name for f in once.folder.iterdir()}
    assert {f.name for f in long.folder.iterdir()} == names
    one, other = (np.load(t.folder / "traces.npz") for t in (once, long))
    for name in one.files:
        scale = max(np.abs(one[name]).max(), 1e-30)
        np.testing.assert_allclose(other[name], one[name], rtol=0, atol=1e-9 * scale)
    before, after = (json.loads((t.folder / "report.json").read_text()) for t in (once, long))
    # the second mean over a piece and a second before it: measured 4e-6 dB
    assert after["level"] == pytest.approx(before["level"], abs=1e-3)
    assert after["sentences"] == before["sentences"]
    assert after["energy"] == pytest.approx(before["energy"])
    samples, rate = soundfile.read(long.folder / "sound.wav")
    assert (len(samples), rate) == (round(1.5 * RATE_HZ), RATE_HZ)
    assert np.abs(samples).max() < 1
    page = (long.folder / "listen.html").read_text()
    assert 'src="sound.wav"' in page
    assert "keep that file beside this page" in page
    assert 'src="data:audio' in (once.folder / "listen.html").read_text()
    rows = [(t.folder / "traces.csv").read_text().count("\n") for t in (once, long)]
    assert rows[0] == rows[1]


def test_a_refused_long_take_leaves_nothing(tmp_path, monkeypatch):
    path = tmp_path / "loud.toml"
    path.write_text(
        '[instrument]\nname = "trumpet"\n[player]\npressure_kpa = 20\ntension_hz = 470\n'
        '[sound]\nlength_s = 1\nlevel = "calibrated"\ndistance_m = 0.05\n'
    )
    short_memory(monkeypatch)
    with pytest.raises(SceneError, match="more than the 200 Pa of a calibrated file"):
        render(path, tmp_path / "out")
    assert os.listdir(tmp_path / "out") == []


def test_a_disk_too_small_is_told_before_anything_is_played(tmp_path, monkeypatch):
    path = tmp_path / "long.toml"
    path.write_text(
        '[instrument]\nname = "trumpet"\n[player]\npressure_kpa = 5\ntension_hz = 470\n'
        "[sound]\nlength_s = 1800\n"
    )
    monkeypatch.setattr(folders, "free_on_disk", lambda folder: 2_000_000_000)
    with pytest.raises(
        SceneError, match="needs about 13 GB on disk while it is made, 2 GB are free"
    ):
        render(path, tmp_path / "out")
    assert os.listdir(tmp_path / "out") == []


PEAK = """
import sys
from lipmodel.commands.main import main
assert main(sys.argv[1:]) == 0
# getrusage would tell the parent's own peak where that was higher
print(next(line.split()[1] for line in open("/proc/self/status") if line.startswith("VmHWM")))
"""


@pytest.mark.slow
@pytest.mark.skipif(sys.platform != "linux", reason="reads /proc")
def test_memory_does_not_grow_with_length(tmp_path):
    peaks = []
    for seconds in (100, 400):
        (tmp_path / "long.toml").write_text(
            '[instrument]\nname = "trumpet"\n[player]\npressure_kpa = 6\n'
            f"tension_hz = [[0, 250], [{seconds}, 700]]\n[sound]\nlength_s = {seconds}\n"
        )
        ran = subprocess.run(
            [sys.executable, "-c", PEAK, "render", "long.toml", "--out", "out"], cwd=tmp_path,
            env={**os.environ, "PYTHONPATH": str(ROOT)}, check=True, capture_output=True, text=True,
        )  # fmt: skip
        peaks.append(int(ran.stdout.split()[-1]) * 1024)
    # measured 355 MB and 360; half an hour 380
    assert max(peaks) < 600e6
    assert peaks[1] - peaks[0] < 50e6
