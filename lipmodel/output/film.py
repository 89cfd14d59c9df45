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
from lipmodel.output.render import STAGES, render
from lipmodel.scene.scene import read_scene, refuse_longer

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


def film(path, upright=False, *, say=lambda text: None, step=lambda words: None, studio=None):
    """The scene at `path` as written, rendered and filmed.

    Returns the bytes of an MP4 file (1920 x 1080, `upright`: 1080 x 1920; FPS frames a second)
    and the report.  `say`, `step` and `studio` as in `render`.  Raises SceneError and
    SimulationError.
    """
    encoder()
    as_written = read_scene(path).variants[0]
    refuse_longer(as_written.scene, LONGEST, "a film")
    with scratch() as folder:
        (take,) = render(
            path, folder, say=say, step=step, studio=studio, options={"field": True},
            cast=[(as_written, None)],
        )  # fmt: skip
        target = Path(folder) / "film.mp4"
        field = take.folder / "field.json"
        animation = json.loads(field.read_text("utf-8")) if field.is_file() else None
        with np.load(take.folder / "traces.npz") as traces:
            made = Film(take.report, dict(traces), animation, upright)
        _write(target, made, take.folder / "sound.wav", step)
        return target.read_bytes(), take.report


def _write(target: Path, made: Film, sound: Path, step):
    """Frames and sound into the file `target`; SceneError where the encoder gives up."""
    size = "{}x{}".format(*made.size)
    command = [
        encoder(), "-v", "error", "-f", "rawvideo", "-pix_fmt", "rgb24", "-s", size,
        "-r", str(FPS), "-i", "-", "-i", str(sound), "-map", "0:v", "-map", "1:a",
        *COLOURS, *PICTURE, *SOUND, str(target),
    ]  # fmt: skip
    with tempfile.TemporaryFile() as told:
        process = subprocess.Popen(
            command, stdin=subprocess.PIPE, stdout=subprocess.DEVNULL, stderr=told
        )
        try:
            _send(process.stdin, made, step)
            failed = process.wait()
        except BaseException:  # stopped: nothing is left running
            process.kill()
            process.wait()
            raise
        if failed:
            told.seek(0)
            said = told.read().decode(errors="replace").splitlines() or ["no reason given"]
            raise SceneError(f"film: the encoder failed ({said[0]})")


def _send(pipe, made: Film, step):
    """All frames; what goes wrong at the other end shows in its exit code."""
    with contextlib.suppress(BrokenPipeError), pipe:
        for number in range(made.frames):
            check_stop()
            step(f"film: {number / FPS:.0f} of {made.length:.0f} s")
            pipe.write(np.ascontiguousarray(made.frame(number)))
