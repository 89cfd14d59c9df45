"""Sound files read back."""

import numpy as np
import pytest

from lipmodel.files import audio


def test_a_wav_is_read_back(tmp_path):
    path = tmp_path / "sound.wav"
    path.write_bytes(audio.sound_bytes(np.array([0.0, 0.5, -0.5]), 48_000))
    samples, rate = audio.read_sound(path)
    assert rate == 48_000
    assert samples == pytest.approx([0.0, 0.5, -0.5], abs=1e-6)
