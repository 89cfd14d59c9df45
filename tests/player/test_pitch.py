"""A second opinion on the pitch of a played sound."""

import pytest
from support.tones import RATE, assert_alike

from lipmodel.player.performance import perform
from lipmodel.scene.scene import read_scene


@pytest.fixture(scope="session")
def played(tmp_path_factory):
    path = tmp_path_factory.mktemp("pitch") / "two_notes.toml"
    path.write_text(
        '[instrument]\nname = "trumpet"\n[sound]\nlength_s = 1.0\n'
        "[player]\npressure_kpa = 6\ntension_hz = [[0, 215], [0.4, 225], [0.5, 425], [1, 440]]\n"
    )
    return perform(read_scene(path)).played.mouthpiece_pressure


def test_a_second_opinion_hears_the_same_pitch_in_a_played_sound(played):
    assert_alike(played, RATE)
