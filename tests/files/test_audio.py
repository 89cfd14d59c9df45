"""Sound files read back."""

import io

import numpy as np
import pytest
import soundfile

from lipmodel.files import audio


def test_a_wav_is_read_back(tmp_path):
    path = tmp_path / "sound.wav"
    path.write_bytes(audio.sound_bytes(np.array([0.0, 0.5, -0.5]), 48_000))
    samples, rate = audio.read_sound(path)
    assert rate == 48_000
    assert samples == pytest.approx([0.0, 0.5, -0.5], abs=1e-6)


@pytest.mark.parametrize("kind", ["wav", "flac", "flac24", "ogg", "mp3"])
def test_two_channels_stay_two(kind):
    both = np.column_stack([np.linspace(-0.5, 0.5, 4000), np.zeros(4000)])
    read, rate = soundfile.read(io.BytesIO(audio.sound_bytes(both, 48_000, kind)))
    assert (read.shape[1], rate) == (2, 48_000)
    if "flac" in kind or kind == "wav":
        assert read == pytest.approx(both[: len(read)], abs=1e-4)
        first, _ = audio.read_sound(io.BytesIO(audio.sound_bytes(both, 48_000, kind)))
        assert first == pytest.approx(both[:, 0], abs=1e-4)  # the left one
