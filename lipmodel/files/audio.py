"""WAV, FLAC, OGG, MP3."""

import io
from pathlib import Path

import numpy as np
import soundfile

from lipmodel.errors import SceneError
from lipmodel.files.long_arrays import portions


def write_sound(out, samples, rate, kind="wav"):
    """Samples (-1 to 1, shape (n,), of two channels (n, 2)) into an open file, a piece at a time,
    as 24-bit WAV, 16-bit FLAC, OGG Vorbis or MP3; "flac24" is the WAV without loss."""
    subtype = {"ogg": "VORBIS", "mp3": "MPEG_LAYER_III", "flac": "PCM_16"}.get(kind, "PCM_24")
    form = {"format": kind.upper().removesuffix("24"), "subtype": subtype}
    try:
        channels = np.shape(samples[:1])[1:] or (1,)
        with soundfile.SoundFile(out, "w", int(rate), *channels, **form) as file:
            for part in portions(len(samples)):
                file.write(samples[part])
    except soundfile.LibsndfileError as error:
        more = " or rate_hz = 48000, 44100, 32000" if kind == "mp3" else ""
        raise SceneError(
            f'sound.also: "{kind}" cannot be written at {rate:g} Hz; expected another kind{more}'
        ) from error


def sound_bytes(samples, rate, kind="wav") -> bytes:
    """What `write_sound` writes."""
    out = io.BytesIO()
    write_sound(out, samples, rate, kind)
    return out.getvalue()


def read_sound(path: Path) -> tuple[np.ndarray, int]:
    """Samples of the first channel, shape (n,), and their rate in Hz."""
    samples, rate = read_channels(path)
    return samples[:, 0], rate


def read_channels(path: Path) -> tuple[np.ndarray, int]:
    """Samples of every channel, shape (n, channels), and their rate in Hz."""
    return soundfile.read(path, always_2d=True)
