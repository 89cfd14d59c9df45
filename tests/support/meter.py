"""Another meter: the loudness of a sound file as ffmpeg's ebur128 measures it (EBU R 128)."""

import re
import subprocess
from math import ceil

import imageio_ffmpeg

NAMES = {"loudness": r"I: +(-?[\d.]+) LUFS", "peak": r"Peak: +(-?[\d.]+|-inf) dBFS"}


def measured(path, repeats=0) -> dict[str, float]:
    """Integrated loudness in LUFS and true peak in dBTP, to a tenth; `repeats`: played on so many
    times, as what is shorter than a block must be."""
    command = [imageio_ffmpeg.get_ffmpeg_exe(), "-nostats", "-stream_loop", str(repeats)]
    command += ["-i", str(path), "-af", "ebur128=peak=true", "-f", "null", "-"]
    told = subprocess.run(command, capture_output=True, text=True, check=True).stderr
    summary = told[told.rindex("Summary:") :]
    return {what: float(re.search(words, summary)[1]) for what, words in NAMES.items()}


def off_target(folder, report) -> list[str]:
    """What is wrong with the loudness of a take's file: it meets its target, or says why not."""
    level, told = report["level"], []
    # what is shorter than two blocks is measured as if played on, as the report says
    rounds = ceil(2 * 0.4 / report["length_s"]) if level["repeated_to_measure"] else 1
    found = measured(folder / "sound.wav", rounds - 1)
    if level["reason"] == "silent":  # ffmpeg's gate is all that is left
        return [] if found == {"loudness": -70.0, "peak": float("-inf")} else ["not silent"]
    if level["reason"] is None and not abs(found["loudness"] - level["target_lufs"]) <= 0.5:
        told.append(f"{found['loudness']} LUFS")
    # measured up to 0.05 LU, and 0.3 in a flame's sound that grows out of nothing, where a block
    # more or less passes the gate
    if not abs(found["loudness"] - level["lufs"]) <= 0.35:
        told.append(f"{found['loudness']} LUFS, not {level['lufs']:.2f}")
    # four times oversampled peaks lie up to 0.5 dB under the true one (BS.1770-4 Annex 2)
    if level["reason"] == "true peak" and not -1.5 <= found["peak"] <= -0.5:
        told.append(f"{found['peak']} dBTP")
    return told
