"""Long sounds: in pieces, in a file without a name, and the same as at once."""

import json
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pyloudnorm
import pytest
import soundfile

from lipmodel.errors import SceneError
from lipmodel.files import folders, long_arrays
from lipmodel.files.long_arrays import Even, Spool, Trace, pieces, portions, room_for
from lipmodel.output.render import render
from lipmodel.player import performance
from lipmodel.player.radiated import _added
from lipmodel.scene.scene import read_scene
from lipmodel.sound import loudness

RATE = 48_000
SHORT, PIECE = 30_000, 7_000  # samples, in place of those of `spool`
ROOT = Path(__file__).resolve().parents[1]


@pytest.fixture
def values():
    return np.random.default_rng(3).normal(size=1000)


@pytest.fixture
def trace(tmp_path, values):
    kept = Spool(tmp_path)
    kept.trace(17)
    found = kept.trace(len(values))
    for part in pieces(len(values), 300):
        found[part] = values[part]
    yield found
    kept.close()


@pytest.mark.parametrize(
    "key",
    [
        slice(None), slice(5, 20), slice(-20, None), slice(40, 40), slice(900, 5000),
        slice(0, 1000, 7), 0, 999, -1, np.array([3, 900, 3, 17]), np.array([], int),
    ],
)  # fmt: skip
def test_a_trace_is_sliced_like_an_array(trace, values, key):
    np.testing.assert_array_equal(trace[key], values[key])


def test_a_trace_knows_its_size_and_becomes_an_array(trace, values):
    assert len(trace) == 1000
    assert trace.shape == (1000,)
    np.testing.assert_array_equal(np.asarray(trace), values)
    assert long_arrays.largest(trace) == np.abs(values).max()
    assert long_arrays.least(trace) == values.min()
    with pytest.raises(IndexError, match="1000: a trace of 1000 samples"):
        trace[1000]


def test_what_was_not_written_is_zero_and_one_number_fills_a_stretch(tmp_path):
    kept = Spool(tmp_path)
    found = kept.trace(100)
    found[10:20] = 2.5
    assert np.sum(found[:]) == 25.0
    assert not np.any(found[20:])
    kept.close()


def test_a_second_take_lies_over_the_first(tmp_path):
    kept = Spool(tmp_path)
    for number in (1.0, 2.0):
        kept.begin_again()
        kept.trace(100)[0:100] = number
        kept.trace(50)[0:50] = -number
    first = Trace(kept._file, 0, 200)
    assert set(first[0:100]) == {2.0}
    assert set(first[100:150]) == {-2.0}
    assert not np.any(first[150:200])
    kept.close()


def test_nothing_of_it_is_seen_in_the_folder(tmp_path):
    kept = Spool(tmp_path)
    kept.trace(1000)[0:1000] = 1.0
    assert os.listdir(tmp_path) == []
    kept.close()


def test_short_traces_stay_in_memory(tmp_path):
    with room_for(long_arrays.HELD, tmp_path) as room:
        assert isinstance(room.trace(10), np.ndarray)
    with room_for(long_arrays.HELD + 1, tmp_path) as room:
        assert isinstance(room.trace(10), Trace)


def test_portions_are_the_whole():
    assert list(portions(10)) == [slice(0, 10)]
    n = long_arrays.HELD + 1
    covered = np.concatenate([[p.start, p.stop] for p in portions(n)])
    assert covered[0] == 0
    assert covered[-1] == n
    np.testing.assert_array_equal(covered[1:-1:2], covered[2::2])


def test_times_that_are_never_made_are_those_that_are():
    times = np.arange(1000) / 44_100
    even = Even(1000, 44_100)
    np.testing.assert_array_equal(even[:], times)
    np.testing.assert_array_equal(even[10:500:7], times[10:500:7])
    np.testing.assert_array_equal(even[np.array([3, 999])], times[[3, 999]])
    assert even[7] == times[7]


def short_memory(monkeypatch):
    """Sounds of more than 0.6 s are long ones."""
    whole = {"HELD": long_arrays.HELD, "PIECE": long_arrays.PIECE}
    for name, module in list(sys.modules.items()):
        if name.startswith("lipmodel"):
            for constant, value in (("HELD", SHORT), ("PIECE", PIECE)):
                if getattr(module, constant, None) == whole[constant]:  # not a slide's own PIECE
                    monkeypatch.setattr(module, constant, value)
    monkeypatch.setattr(long_arrays.pieces, "__defaults__", (PIECE,))


SCENES = {
    "a sweep": """
[player]
pressure_kpa = [[0, 0], [0.05, 7], [1.3, 7], [1.35, 0]]
tension_hz = [[0, 300], [1.5, 520]]
flutter_percent = 3
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
    options = {"csv": "thin"}
    (once,) = render(path, tmp_path / "once", options=options)
    short_memory(monkeypatch)
    assert long_arrays.HELD == long_arrays.HELD == long_arrays.HELD == SHORT
    (long,) = render(path, tmp_path / "long", options=options)
    names = {f.name for f in once.folder.iterdir()}
    assert {f.name for f in long.folder.iterdir()} == names
    one, other = (np.load(t.folder / "traces.npz") for t in (once, long))
    for name in one.files:
        if "flutter" in text and name != "time_s":
            continue  # its unrest is drawn for the length that is held
        scale = max(np.abs(one[name]).max(), 1e-30)
        np.testing.assert_allclose(other[name], one[name], rtol=0, atol=1e-9 * scale)
    before, after = (json.loads((t.folder / "report.json").read_text()) for t in (once, long))
    if "flutter" not in text:
        # the second mean over a piece and a second before it: measured 4e-6 dB
        assert after["level"] == pytest.approx(before["level"], abs=1e-3)
        assert after["sentences"] == before["sentences"]
        assert after["energy"] == pytest.approx(before["energy"])
    samples, rate = soundfile.read(long.folder / "sound.wav")
    assert (len(samples), rate) == (round(1.5 * RATE), RATE)
    assert np.abs(samples).max() < 1
    page = (long.folder / "listen.html").read_text()
    assert 'src="sound.wav"' in page
    assert "keep that file beside this page" in page
    assert 'src="data:audio' in (once.folder / "listen.html").read_text()
    rows = [(t.folder / "traces.csv").read_text().count("\n") for t in (once, long)]
    assert rows[0] == rows[1]


BREATH = '[instrument]\nname = "{}"\n{}[player]\npressure_kpa = 6\ntension_hz = 210\n{}'


@pytest.fixture
def long_run(tmp_path, monkeypatch):
    """A run of 1.5 s whose traces are too long for memory."""
    path = tmp_path / "long.toml"
    short_memory(monkeypatch)
    kept = Spool(tmp_path)

    def run(name, instrument="", player=""):
        path.write_text(BREATH.format(name, instrument, player) + "[sound]\nlength_s = 1.5\n")
        return performance.perform(read_scene(path), room=kept)

    yield run
    kept.close()


def test_the_unrest_of_a_long_run_begins_again_without_a_seam(long_run):
    calm, unquiet = (
        long_run("trumpet", player=f"flutter_percent = {p}\n").mouth[:] for p in (0, 10)
    )
    unrest = unquiet[RATE // 10 :] / calm[RATE // 10 :]
    assert np.std(unrest) == pytest.approx(0.1, rel=0.3)
    np.testing.assert_allclose(unrest[SHORT:], unrest[: len(unrest) - SHORT], rtol=1e-12)
    # it changes as little where it begins again as anywhere
    seam = SHORT - RATE // 10
    steps = np.abs(np.diff(unrest))
    assert steps[seam - 3 : seam + 3].max() < steps.max()


def test_a_long_run_keeps_few_states_and_plays_on_from_any_moment(long_run, monkeypatch):
    every = long_run("trumpet")
    here = {t: every.state_at(t) for t in (0.1, 0.6, 1.3)}
    assert [s.time for s in every.states] == pytest.approx(np.arange(6) / 4)
    monkeypatch.setattr(performance, "MOST_STATES", 3)
    few = long_run("trumpet")
    assert [s.time for s in few.states] == pytest.approx([0, 0.5, 1.0])
    for time, state in here.items():
        other = few.state_at(time)
        assert other.time == state.time
        np.testing.assert_array_equal(other.lip, state.lip)
        np.testing.assert_array_equal(other.right, state.right)


def test_what_a_slide_adds_is_asked_for_at_any_moment(long_run):
    run = long_run("trombone", "slide_position = [[0, 1], [1.4, 6]]\n")
    added = _added(run.built, run.gesture, run.controls.slide, run.controls.added)
    whole = added(slice(0, 72_000))
    assert np.ptp(whole[run.controls.slide.line]) > 50
    np.testing.assert_array_equal(added(slice(50_000, 50_100)), whole[:, 50_000:50_100])


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


@pytest.fixture(scope="module")
def minute():
    """A bit more than a minute: loud, soft, silent and loud again."""
    rng = np.random.default_rng(5)
    n = long_arrays.HELD + 200_000
    level = np.interp(np.arange(n) / n, [0, 0.3, 0.31, 0.6, 0.61, 0.8, 0.81, 1],
                      [1, 1, 0.02, 0.02, 0, 0, 0.4, 0.4])  # fmt: skip
    return rng.normal(scale=0.1, size=n) * level


def test_loudness_in_pieces_is_pyloudnorm_s_own(minute):
    expected = pyloudnorm.Meter(RATE).integrated_loudness(minute)
    assert loudness.long_loudness(minute, RATE) == pytest.approx(expected, abs=1e-6)
    assert loudness.loudness(minute, RATE) == (loudness.long_loudness(minute, RATE), False)
    assert loudness.long_loudness(np.zeros(len(minute)), RATE) == float("-inf")


def test_peaks_and_levels_in_pieces_are_those_of_the_whole(minute, monkeypatch):
    peak, levels = loudness.true_peak(minute), loudness.sound_levels(minute, RATE)
    monkeypatch.setattr(long_arrays, "HELD", 10 * len(minute))
    assert loudness.true_peak(minute) == pytest.approx(peak, rel=1e-12)
    assert loudness.sound_levels(minute, RATE) == pytest.approx(levels, abs=1e-6)


def test_fades_and_gain_where_it_is_sliced(minute):
    found = loudness.faded(minute, RATE) * 0.5
    whole = np.concatenate([found[p] for p in pieces(len(found), 1_000_003)])
    ramp = 0.5 - 0.5 * np.cos(np.pi * np.arange(96) / 96)
    expected = 0.5 * minute
    expected[:96] *= ramp
    expected[-96:] *= ramp[::-1]
    np.testing.assert_allclose(whole, expected, rtol=1e-12, atol=1e-15)
    assert not np.any(loudness.silenced(found)[0:1000])


def test_a_source_says_how_long_it_may_be(tmp_path):
    path = tmp_path / "click.toml"
    path.write_text(
        '[instrument]\nname = "trumpet"\n[source]\nkind = "pop"\n[sound]\nlength_s = 900\n'
    )
    with pytest.raises(SceneError, match=r"to 208 s: a \[source\] is held"):
        read_scene(path)


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
