"""Long performances: in pieces without a seam, and played on from any moment."""

import numpy as np
import pytest
from support.long_runs import short_memory

from lipmodel.files.long_arrays import FileRoom
from lipmodel.player import performance
from lipmodel.player.radiated import _added
from lipmodel.scene.scene import read_scene

BREATH = '[instrument]\nname = "{}"\n{}[player]\npressure_kpa = 6\ntension_hz = 210\n{}'


@pytest.fixture
def long_run(tmp_path, monkeypatch):
    """A run of 1.5 s whose traces are too long for memory."""
    path = tmp_path / "long.toml"
    short_memory(monkeypatch)
    kept = FileRoom(tmp_path)

    def run(name, instrument="", player=""):
        path.write_text(BREATH.format(name, instrument, player) + "[sound]\nlength_s = 1.5\n")
        return performance.perform(read_scene(path), room=kept)

    yield run
    kept.close()


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
