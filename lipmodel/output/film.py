"""A scene as a film: frames from `pictures/film.py`, sound as written, in one MP4 file."""

import contextlib
import json
import subprocess
import tempfile
from pathlib import Path

import numpy as np

from lipmodel.errors import SceneError, check_stop
from lipmodel.files.atomic import scratch
from lipmodel.output.pictures.film import FPS, Film
from lipmodel.output.render import STAGES, takes
from lipmodel.scene.scene import read_scene, refuse_longer
from lipmodel.system.progress import telling

LONGEST = 300.0  # s of sound that are held in memory
SOUND = ["-c:a", "aac", "-ar", "48000", "-b:a", "192k"]  # what every player of AAC takes
# H.264: hardly any loss; no frames that refer to later ones, so that the picture begins at 0 in
# every player; a whole picture every 2 s, to jump to; nothing in the file that changes by itself
PICTURE = [
    "-c:v", "libx264", "-pix_fmt", "yuv420p", "-preset", "veryfast", "-crf", "18", "-bf", "0",
    "-g", str(2 * FPS), "-movflags", "+faststart", "-fflags", "+bitexact", "-flags:v", "+bitexact",
    "-flags:a", "+bitexact",
]  # fmt: skip
# ITU-R BT.709, the colours of high-definition video: players take them for granted
COLOURS = [
    "-vf", "scale=out_color_matrix=bt709:out_range=tv,"
    "setparams=range=tv:colorspace=bt709:color_primaries=bt709:color_trc=bt709",
]  # fmt: skip


def encoder() -> str:
    """The program that writes films.  SceneError says what to install where there is none."""
    try:
        from imageio_ffmpeg import get_ffmpeg_exe

        return get_ffmpeg_exe()
    except (ImportError, RuntimeError) as error:
        raise SceneError(
            'film: imageio-ffmpeg is not installed; pip install "lipmodel[film]"'
        ) from error


def progress_steps(path) -> int:
    """Steps of progress that the film of the scene at `path` takes."""
    return STAGES + round(read_scene(path).sound.length_s * FPS)


def film(path, upright=False, *, writer=None, progress=None):
    """The scene at `path` as written, played and filmed.

    Returns the bytes of an MP4 file (1920 x 1080, `upright`: 1080 x 1920; FPS frames a second)
    and the report.  `writer` and `progress` as in `render.takes`.  Raises SceneError and
    SimulationError.
    """
    encoder()
    progress = telling(progress)
    as_written = read_scene(path).variants[0]
    refuse_longer(as_written.scene, LONGEST, "a film")
    with scratch() as folder:
        cast = [(as_written, None)]
        (take,) = takes(path, folder, cast=cast, field=True, writer=writer, progress=progress)
        target, sound = Path(folder) / "film.mp4", Path(folder) / "film.wav"
        sound.write_bytes(take.file("sound.wav"))  # the encoder reads a file
        field = take.file("field.json")
        made = Film(take.report, _traces(take), json.loads(field) if field else None, upright)
        _write(target, made, sound, progress.step)
        return target.read_bytes(), take.report


def _traces(take) -> dict:
    if take.folder is None:
        return take.traces
    with np.load(take.folder / "traces.npz") as traces:
        return dict(traces)


def _write(target: Path, made: Film, sound: Path, step):
    """Frames and sound into the file `target`; SceneError where the encoder gives up."""
    size = "{}x{}".format(*made.size)
    command = [
        encoder(), "-v", "error", "-f", "rawvideo", "-pix_fmt", "rgb24", "-s", size,
        "-r", str(FPS), "-i", "-", "-i", str(sound), "-map", "0:v", "-map", "1:a",
        *COLOURS, *PICTURE, *SOUND, str(target),
    ]  # fmt: skip
    with tempfile.TemporaryFile() as messages:
        process = subprocess.Popen(
            command, stdin=subprocess.PIPE, stdout=subprocess.DEVNULL, stderr=messages
        )
        try:
            _send(process.stdin, made, step)
            failed = process.wait()
        except BaseException:  # stopped: nothing is left running
            process.kill()
            process.wait()
            raise
        if failed:
            messages.seek(0)
            said = messages.read().decode(errors="replace").splitlines() or ["no reason given"]
            raise SceneError(f"film: the encoder failed ({said[0]})")


def _send(pipe, made: Film, step):
    """All frames; what goes wrong at the other end shows in its exit code."""
    with contextlib.suppress(BrokenPipeError), pipe:
        for number in range(made.frames):
            check_stop()
            step(f"film: {number / FPS:.0f} of {made.length:.0f} s")
            pipe.write(np.ascontiguousarray(made.frame(number)))
